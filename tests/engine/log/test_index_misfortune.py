"""An index that is damaged, locked, read-only, older or nowhere costs time, never an answer."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from engine.log import index_file
from engine.log.index import IndexedPast
from engine.repo.git import Git
from engine.views import Traced
from tests.campaigns import flipped_bytes
from tests.mini_book import SEAT, plain_git

REACH = "positions.seat.reach"


@pytest.fixture
def book(at, folder, monkeypatch, tmp_path):  # type: ignore[no-untyped-def]
    """A little book with three inks of one value, its index, and what the trace says."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own-cache"))
    monkeypatch.setattr(index_file, "PATIENCE", 0.2)
    mira = at("mira")
    for value in ("612.400", "612.45", "612.5"):
        mira.document(SEAT).pencil.set(REACH, value)
        mira.document(SEAT).ink(f"to {value}")
    wanted = mira.document(SEAT).past.trace(REACH)
    assert len(wanted) == 4
    file = index_file.place_of(folder)
    assert file.exists()
    mira.close()
    return folder, file, wanted


def _asked_again(at, folder: Path) -> list[Traced]:  # type: ignore[no-untyped-def]
    mira = at("mira", folder)
    found = mira.document(SEAT).past.trace(REACH)
    assert mira.document(SEAT).past.marks()[0].name == "ink-4"
    return found


def _garbage(file: Path) -> None:
    file.write_bytes(b"this is no database" * 1000)


def _cut_short(file: Path) -> None:
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])


def _emptied(file: Path) -> None:
    file.write_bytes(b"")


def _change(file: Path, statement: str) -> None:
    """Change the index behind the program's back."""
    with sqlite3.connect(file) as db:
        db.execute(statement)
    db.close()


def _older(file: Path) -> None:
    _change(file, "PRAGMA user_version = 1")


def _other_tables(file: Path) -> None:
    file.unlink()
    _change(file, "CREATE TABLE meta (a)")


def _table_gone(file: Path) -> None:
    _change(file, "DROP TABLE documents")


def _no_text(file: Path) -> None:
    _change(file, "UPDATE saves SET subject = CAST(x'ff' AS TEXT)")


def _no_number(file: Path) -> None:
    _change(file, "UPDATE documents SET steps = 'many'")


def _row_gone(file: Path) -> None:
    _change(file, "DELETE FROM steps WHERE s = (SELECT max(s) FROM steps)")


def _forged(file: Path) -> None:
    _change(file, "UPDATE steps SET changes = replace(changes, '612.45', '777.77')")


def _somebody_else(file: Path) -> None:
    _change(file, "UPDATE words SET text = replace(text, 'Mira Falk', 'Nobody')")


HARMS = [_garbage, _cut_short, _emptied, _older, _other_tables, _table_gone, _no_text, _no_number]
HARMS += [_row_gone, _forged, _somebody_else]


@pytest.mark.parametrize("harm", HARMS)
def test_a_damaged_index_changes_no_answer(at, book, harm: Callable[[Path], None]) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    harm(file)
    assert _asked_again(at, folder) == wanted
    assert _asked_again(at, folder) == wanted
    index = IndexedPast(Git(folder), file)
    index.refresh(Git(folder).head())
    assert len(index.rows("wm-seat10", lambda a: a == REACH)) == len(wanted), "it was made anew"
    index.close()


def test_flipped_bytes_change_no_answer(tmp_path: Path) -> None:
    """The short form of `tests/campaigns/flipped_bytes.py`; before an update, too."""
    campaign = flipped_bytes.run(tmp_path, seed=22, trials=20)
    assert not campaign.wrong
    assert campaign.ends["first: answered by git"] >= 5, "damage was noticed"
    assert campaign.ends["first: answered by the index"] >= 5
    assert campaign.ends["second: answered by the index"] == 20, "it was made anew"


@pytest.fixture(scope="module")
def campaign(tmp_path_factory) -> Iterator[flipped_bytes.Campaign]:  # type: ignore[no-untyped-def]
    made = flipped_bytes.Campaign(tmp_path_factory.mktemp("campaign"), seed=22)
    yield made
    made.close()


LOSSES = {
    "a commit": "DELETE FROM saves WHERE n = (SELECT max(n) FROM steps WHERE changes <> x'')",
    "a commit's id": "UPDATE saves SET id = x'00' WHERE n = 10",
    "the date of a commit": "UPDATE saves SET at = 0 WHERE n = 10",
    "what many commits have": "DELETE FROM outlines",
    "who made many commits": "UPDATE outlines SET packed = zeroblob(length(packed))",
    "some of many commits": "UPDATE outlines SET packed = substr(packed, 1, 210)",
    "the newest steps": "DELETE FROM steps WHERE n = (SELECT max(n) FROM steps)",
    "older steps": "DELETE FROM steps WHERE n = (SELECT min(n) FROM steps WHERE n > 9)",
    "one step of several": "DELETE FROM steps WHERE s = (SELECT max(s) FROM steps GROUP BY n "
    "HAVING count(*) > 1 ORDER BY n DESC LIMIT 1)",
    "whose steps they are": "UPDATE steps SET n = 4711 WHERE s % 5 = 1",
    "a person": "UPDATE words SET text = replace(text, '[\"mira', 'x')",
    "a document's name": "UPDATE words SET text = 'x' || text WHERE text = 'wm-test01'",
    "a word": "DELETE FROM words WHERE text = 'wm-test01'",
    "a document": "DELETE FROM documents WHERE key IN "
    "(SELECT w FROM words WHERE text = 'wm-test01')",
    "where a record lay": "DELETE FROM homes WHERE key IN "
    "(SELECT w FROM words WHERE text = 'wm-test01')",
    "all documents": "DELETE FROM documents",
    "what it says of itself": "DELETE FROM extent",
}


@pytest.mark.parametrize("before", [True, False])
@pytest.mark.parametrize("loss", LOSSES)
def test_what_is_lost_is_missed(campaign, loss: str, before: bool) -> None:  # type: ignore[no-untyped-def]
    """Listings tell no less than git does; where it is noticed on the way, they go on with git."""
    campaign.file.write_bytes(campaign.grown[0 if before else 1])
    with sqlite3.connect(campaign.file) as db:
        assert db.execute(LOSSES[loss]).rowcount > 0, "something was lost"
    db.close()
    assert campaign.ask(loss) == f"answered by {'the index' if 'itself' in loss else 'git'}"
    assert not campaign.wrong
    assert campaign.ask(loss) == "answered by the index"
    assert not campaign.wrong


def test_ways_into_the_tables_that_lead_elsewhere_are_noticed(campaign) -> None:  # type: ignore[no-untyped-def]
    """Each of the two ways to steps leads where the other one should."""
    campaign.file.write_bytes(campaign.grown[1])
    with sqlite3.connect(campaign.file) as db:
        ways = "SELECT rootpage, name FROM sqlite_master WHERE name LIKE 'steps_of_%' ORDER BY name"
        (one, first), (other, second) = db.execute(ways).fetchall()
        db.execute("PRAGMA writable_schema = ON")
        for page, name in ((other, first), (one, second)):
            db.execute("UPDATE sqlite_master SET rootpage = ? WHERE name = ?", (page, name))
    db.close()
    assert campaign.ask("swapped ways") == "answered by git"
    assert not campaign.wrong


def test_a_fault_of_this_program_keeps_the_index_and_is_logged(  # type: ignore[no-untyped-def]
    at, book, monkeypatch, caplog
) -> None:
    folder, file, wanted = book
    healthy = file.read_bytes()

    def wrong(*_: object) -> None:
        raise KeyError("a fault of ours")

    monkeypatch.setattr(IndexedPast, "rows", wrong)
    assert _asked_again(at, folder) == wanted
    assert file.read_bytes() == healthy
    (told,) = [r for r in caplog.records if r.levelname == "ERROR"]
    assert told.exc_info is not None
    assert told.exc_info[0] is KeyError
    assert told.exc_info[2] is not None, "with its traceback"


@pytest.mark.parametrize("harm", [_table_gone, _no_text, _no_number, _garbage, _forged])
def test_damage_is_told_from_faults(at, book, caplog, harm: Callable[[Path], None]) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    harm(file)
    assert _asked_again(at, folder) == wanted
    assert not [r for r in caplog.records if r.levelname == "ERROR"]


def test_a_locked_index_is_not_waited_for_without_end(at, book) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    db = sqlite3.connect(file, isolation_level=None)
    db.execute("BEGIN EXCLUSIVE")
    assert _asked_again(at, folder) == wanted
    db.close()


@pytest.mark.parametrize("made", ["file", "nowhere", "link", "strangers"])
def test_without_a_folder_for_it(at, book, monkeypatch, tmp_path, made: str) -> None:  # type: ignore[no-untyped-def]
    folder, _, wanted = book
    cache = tmp_path / "other"
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    if made == "file":
        cache.write_text("no folder")
    elif made == "nowhere":
        monkeypatch.setenv("XDG_CACHE_HOME", "/proc/nowhere")
    elif made == "link":
        (cache / "witnessmark").mkdir(parents=True)
        (cache / "witnessmark" / "history").symlink_to(tmp_path)
    else:
        monkeypatch.setattr(os, "getuid", lambda: 4711)
        monkeypatch.setattr("engine.repo.safety._check_owner", lambda _: None)
    assert _asked_again(at, folder) == wanted
    assert not list(tmp_path.glob("*.sqlite"))


def test_a_link_in_the_place_of_the_index_is_not_followed(at, book, tmp_path) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    elsewhere = tmp_path / "elsewhere.sqlite"
    file.rename(elsewhere)
    _change(elsewhere, "PRAGMA user_version = 0")
    before = elsewhere.read_bytes()
    file.symlink_to(elsewhere)
    assert _asked_again(at, folder) == wanted  # by the walk
    assert file.is_symlink()
    assert elsewhere.read_bytes() == before


def test_an_index_that_cannot_be_written_is_kept(at, book, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    before = file.read_bytes()

    def refuse(_: Path) -> sqlite3.Connection:
        error = sqlite3.OperationalError("attempt to write a readonly database")
        error.sqlite_errorcode = sqlite3.SQLITE_READONLY
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(index_file, "_connect", refuse)
        assert _asked_again(at, folder) == wanted
    assert file.read_bytes() == before  # no damage: it serves again when the disk does


def test_the_index_is_the_accounts_own(book) -> None:  # type: ignore[no-untyped-def]
    folder, file, _ = book
    assert file.parent.stat().st_mode & 0o777 == 0o700
    assert file.stat().st_mode & 0o777 == 0o600
    assert folder not in file.parents


def test_a_book_brings_no_index_along(at, book, monkeypatch, tmp_path) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "fresh"))
    _forged(file)
    for place in (folder, folder / ".git" / "witnessmark"):
        (place / file.name).write_bytes(file.read_bytes())
    assert _asked_again(at, folder) == wanted


@pytest.mark.parametrize("how", ["amend", "back", "other"])
def test_another_past_is_said_loudly_and_read_anew(at, book, how: str) -> None:  # type: ignore[no-untyped-def]
    folder, _, wanted = book
    if how == "amend":
        plain_git(folder, "commit", "-q", "--amend", "-m", "nothing to see here")
    elif how == "back":
        plain_git(folder, "update-ref", "refs/heads/main", "HEAD~1")
    else:
        tree = plain_git(folder, "write-tree").strip()
        fresh = plain_git(folder, "commit-tree", tree, "-m", "all new").strip()
        plain_git(folder, "update-ref", "refs/heads/main", fresh)
        plain_git(folder, "reflog", "expire", "--expire=now", "--all")
        plain_git(folder, "gc", "-q", "--prune=now")
    mira = at("mira", folder)
    assert any("rewritten" in words for words in mira.warnings())
    found = mira.document(SEAT).past.trace(REACH)
    assert len(found) == {"amend": 4, "back": 3, "other": 1}[how]
    if how == "amend":
        assert [item.reason for item in found[:-1]] == [item.reason for item in wanted[:-1]]
        assert not found[-1].verified
    mira.close()
    at("ole", folder).acknowledge("", "seen by everybody")
    assert not any("rewritten" in words for words in at("mira", folder).warnings())


def test_a_break_while_building_leaves_nothing_half(at, book) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    file.unlink()
    mira = at("mira", folder)

    def stop(count: int) -> None:
        if count:
            raise KeyboardInterrupt

    mira.watch(stop)
    with pytest.raises(KeyboardInterrupt):
        mira.document(SEAT).past.trace(REACH)
    assert _asked_again(at, folder) == wanted


def test_a_save_by_another_process_is_taken_in(at, book) -> None:  # type: ignore[no-untyped-def]
    folder, _, wanted = book
    mira, ole = at("mira", folder), at("ole", folder)
    assert len(mira.document(SEAT).past.trace(REACH)) == 4
    ole.document(SEAT).pencil.set(REACH, "600")
    ole.document(SEAT).ink("far back")
    assert [item.change.new for item in mira.document(SEAT).past.trace(REACH)][:-1] == [
        item.change.new for item in wanted
    ]
    assert mira.document(SEAT).past.trace(REACH)[-1].who.key == "ole"
