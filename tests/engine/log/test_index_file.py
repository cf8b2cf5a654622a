"""The index as a file: what is damage, whose it is, and that a change of it is whole or none."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from engine.log import index_file, kept
from engine.log.index_file import Damaged, Extent


def coded(code: int) -> sqlite3.OperationalError:
    error = sqlite3.OperationalError("words")
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(
    ("error", "damage"),
    [
        (Damaged("a word is missing"), True),
        (sqlite3.DatabaseError("file is not a database"), True),
        (sqlite3.IntegrityError("not unique"), True),
        (sqlite3.OperationalError("no such table: steps"), True),
        (coded(sqlite3.SQLITE_ERROR), True),
        (coded(sqlite3.SQLITE_BUSY), False),
        (coded(sqlite3.SQLITE_READONLY), False),
        (coded(sqlite3.SQLITE_FULL), False),
        (coded(sqlite3.SQLITE_CANTOPEN), False),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte"), True),
        (sqlite3.ProgrammingError("Cannot operate on a closed database."), False),
        (PermissionError("not yours"), False),
        (KeyError("a fault of ours"), False),
    ],
)
def test_damage_is_told_from_what_cannot_be_had_and_from_faults(
    error: Exception, damage: bool
) -> None:
    """Result codes of SQLite: https://www.sqlite.org/rescode.html."""
    assert index_file.is_damage(error) is damage


@pytest.fixture
def db(tmp_path: Path) -> sqlite3.Connection:
    opened = index_file.open_file(tmp_path / "own" / "index")
    with index_file.changing(opened):
        index_file.empty(opened)
        index_file.finish(opened)
    return opened


FULL = Extent(
    "ab" * 20, "1234", 5, 4, 3, 2, 1, ("wm-a", "wm-b"), 2, (1, 3), 7, "little",
)  # fmt: skip


def test_what_it_says_of_itself_comes_back_and_another_version_says_nothing(
    db: sqlite3.Connection,
) -> None:
    assert index_file.said(db) == Extent()
    for extent in (FULL, Extent("cd" * 20)):
        with index_file.changing(db):
            index_file.say(db, extent)
        assert index_file.said(db) == extent
    db.execute("PRAGMA user_version = 5")
    assert index_file.said(db) == Extent()


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
def test_half_a_change_is_none(db: sqlite3.Connection, error: type[BaseException]) -> None:
    with index_file.changing(db):
        index_file.say(db, FULL)
    with pytest.raises(error), index_file.changing(db):  # noqa: PT012
        index_file.add(db, "words", [(0, "half")])
        index_file.say(db, Extent())
        raise error
    assert (index_file.said(db), index_file.read(db, "words")) == (FULL, [])
    with index_file.changing(db):
        index_file.add(db, "words", [(0, "whole")])
    assert index_file.read(db, "words") == [(0, "whole")]


def test_a_row_takes_the_place_of_one_with_the_same_key(db: sqlite3.Connection) -> None:
    db.execute(kept.TABLE)
    index_file.add(db, "kept", [("a", "1"), ("b", "2")])
    index_file.add(db, "kept", [("a", "3")])
    index_file.add(db, "kept", [])
    assert index_file.read(db, "kept", "ORDER BY name") == [("a", "3"), ("b", "2")]
    assert index_file.read(db, "kept", "WHERE name = ?", ("b",)) == [("b", "2")]


def test_a_row_has_one_sum_however_its_values_are_held_in_memory(db: sqlite3.Connection) -> None:
    """Twice the same text, or two texts that are equal: what is read back is never the same."""
    db.execute(kept.TABLE)
    index_file.add(db, "kept", [("same", "same"), ("other", "".join(["oth", "er"]))])
    assert index_file.read(db, "kept", "ORDER BY name") == [("other", "other"), ("same", "same")]


def test_a_row_of_another_table_is_none_of_its(db: sqlite3.Connection) -> None:
    """Sums begin elsewhere in each table."""
    index_file.add(db, "words", [(1, "a")])
    (row,) = db.execute("SELECT * FROM words")
    db.execute("INSERT INTO extent VALUES (?, ?, ?)", row)
    with pytest.raises(Damaged):
        index_file.read(db, "extent")


def test_emptied_it_has_all_its_tables_and_no_row(db: sqlite3.Connection) -> None:
    index_file.add(db, "homes", [(1, 2)])
    db.execute("CREATE TABLE strange (a)")
    with index_file.changing(db):
        index_file.empty(db)
    names = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert names == {
        "extent", "words", "saves", "outlines", "steps", "documents", "homes",
    }  # fmt: skip
    assert index_file.read(db, "homes") == []
    assert db.execute("PRAGMA user_version").fetchone()[0] == index_file.VERSION


def test_what_lies_beside_it_goes_along_when_it_is_thrown_away(tmp_path: Path) -> None:
    for name in ("index", "index-journal", "index-wal", "index-shm", "index-mine"):
        (tmp_path / name).write_text("x")
    index_file.throw_away(tmp_path / "index")
    index_file.throw_away(tmp_path / "index")
    assert [path.name for path in tmp_path.iterdir()] == ["index-mine"]


def test_books_at_different_places_have_indexes_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    places = {index_file.place_of(tmp_path / name) for name in ("a", "b", "a/../a", "./b")}
    assert len(places) == 2
    assert {place.parent for place in places} == {tmp_path / "cache" / "witnessmark" / "history"}


@pytest.mark.parametrize("mode", [0o755, 0o770, 0o701, 0o700])
def test_a_folder_that_others_can_enter_is_closed(tmp_path: Path, mode: int) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own").chmod(mode)
    index_file.open_file(tmp_path / "own" / "index").close()
    assert (tmp_path / "own").stat().st_mode & 0o777 == 0o700
    assert (tmp_path / "own" / "index").stat().st_mode & 0o777 == 0o600
