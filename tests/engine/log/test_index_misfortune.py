"""An index that is damaged, locked, read-only, older or nowhere costs time, never an answer."""

from __future__ import annotations

import os
import random
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.log import index_file
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.past import Past
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from engine.views import Traced
from tests.engine.log.random_past import RandomPast
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


def test_flipped_bytes_change_no_answer(at, book) -> None:  # type: ignore[no-untyped-def]
    folder, file, wanted = book
    dice, whole = random.Random(5), file.read_bytes()
    for _ in range(40):
        spoilt = bytearray(whole)
        for _ in range(3):
            spoilt[dice.randrange(100, len(spoilt))] ^= 1 << dice.randrange(8)
        file.write_bytes(bytes(spoilt))
        assert _asked_again(at, folder) == wanted


def test_bytes_that_flip_before_an_update_change_no_answer(tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """What is read while the index grows is held against its sums too."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own-cache"))
    made = RandomPast(tmp_path / "book", seed=3, commits=20)
    git, head = Git(made.folder), made.heads[-1]
    walked = WalkedPast(git, DocumentCache(git))
    walked.refresh(head)
    wanted = {key: walked.life(key) for key in walked.last_steps()}
    file = index_file.place_of(made.folder)
    grown = IndexedPast(git, file)
    grown.refresh(made.heads[-4])
    grown.close()
    dice, whole = random.Random(7), file.read_bytes()
    for _ in range(30):
        spoilt = bytearray(whole)
        spoilt[dice.randrange(len(spoilt))] ^= 1 << dice.randrange(8)
        file.write_bytes(bytes(spoilt))
        past = Past(git)
        past.refresh(head)
        assert {key: past.life(key) for key in wanted} == wanted
        past.close()
    git.close()


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
