"""What must be true of a book after anything: held against the notes of who worked in it.

what was confirmed is in plain git's log, in order, and so is the value that it inked
the trace has the value at that commit, and ends with what stands
an accepted value is in pencil or in the history, never both, never neither
a record and its program are those of one save
files and index are those of the head; git finds nothing wrong; the next save works, and a
plain `git commit` after it takes nothing back
"""

from __future__ import annotations

import os
import time
from contextlib import suppress
from pathlib import Path

from engine.book import Book
from schemas.errors import WitnessmarkError
from tests.campaigns.acts import ADDRESS, HOLDS, INDEX_LOCK, OTHER, PROGRAM, SAVES, opened
from tests.campaigns.children import Notes
from tests.campaigns.outcome import Kind, Outcome
from tests.mini_book import SEAT_ID, plain_git

WRITTEN = ("fatal", "error", "dangling tree of", "missing", "corrupt", "broken")


def age_locks(folder: Path) -> None:
    """Make git's left-over locks as old as they would be after some seconds of waiting."""
    for lock in folder.rglob("*.lock"):
        with suppress(FileNotFoundError):  # a git that outlived its caller took it away itself
            os.utime(lock, (time.time() - 60, time.time() - 60))


def look(outcome: Outcome, case: str, box: Path, act: str, notes: Notes) -> None:
    """Complain about whatever is not as it must be in the book of a case."""
    folder = box / "book"
    if act == "by hand":
        commit_by_hand(folder)
    lock = folder / INDEX_LOCK
    if act == "held" and lock.exists():
        with outcome.looking(f"{case}: somebody's lock"):
            assert lock.read_bytes() == HOLDS, "somebody's lock was taken"
        lock.unlink()
    age_locks(box)
    try:
        book = opened(folder)
    except WitnessmarkError as error:
        if act == "init" and not notes.all("inked"):
            with outcome.looking(f"{case}: starting it again"):
                Book.start(folder, login="ole").close()
        else:
            outcome.complain(Kind.UNANSWERABLE, case, f"the book does not open: {error}")
        return
    except Exception as error:  # the oracle's edge: a book that falls over is the finding
        outcome.complain(Kind.TRACEBACK, case, f"opening: {type(error).__name__}: {error}")
        return
    try:
        with outcome.looking(case, Kind.LOST):
            _confirmed_is_there(folder, notes)
        with outcome.looking(case, Kind.UNANSWERABLE):
            _trace_says_so(book, folder, notes)
        with outcome.looking(case, Kind.LOST):
            _accepted_is_there(book, notes)
        with outcome.looking(case):
            _whole(book, folder, act, notes)
        with outcome.looking(f"{case}: a no that was a yes"):
            _no_means_no(book, folder, notes)
        with outcome.looking(f"{case}: the next save"):
            _next_save(book, folder)
    finally:
        book.close()


def _record(folder: Path, commit: str) -> str:
    """The seat record's text in a commit, by plain git, whatever its file is called there."""
    names = plain_git(folder, "ls-tree", "-r", "--name-only", commit, "records/").splitlines()
    texts = [plain_git(folder, "show", f"{commit}:{name}") for name in names]
    mine = [text for text in texts if f'"{SEAT_ID}"' in text]
    assert len(mine) == 1, f"{len(mine)} files of one record in {commit[:10]}"
    return mine[0]


def _confirmed_is_there(folder: Path, notes: Notes) -> None:
    past = plain_git(folder, "rev-list", "--reverse", "--topo-order", "HEAD").split()
    inked = notes.all("inked")
    gone = [note["commit"][:10] for note in inked if note["commit"] not in past]
    assert not gone, f"confirmed saves are not in the history: {gone}"
    places = [past.index(note["commit"]) for note in inked]
    assert places == sorted(places), "confirmed saves are out of order"
    for note in inked:
        if "value" in note:
            name = note["address"].rpartition(".")[2]
            assert f"{name} = {note['value']}" in _record(folder, note["commit"]), note


def _trace_says_so(book: Book, folder: Path, notes: Notes) -> None:
    document = book.document(SEAT_ID)
    traced = document.past.trace(ADDRESS)
    told = {item.commit: str(item.change.new) for item in traced}
    for note in notes.all("inked"):
        if note.get("address") == ADDRESS:
            assert told.get(note["commit"]) == note["value"], f"the trace lacks {note}"
    stands = str(document.values().get(ADDRESS))
    assert traced, "the trace is empty"
    assert str(traced[-1].change.new) == stands, (
        f"the trace ends on {traced[-1].change.new}, not {stands}"
    )
    assert f"reach = {stands}" in _record(folder, "HEAD")


def _accepted_is_there(book: Book, notes: Notes) -> None:
    document = book.document(SEAT_ID)
    draft = document.pencil.draft()
    held = {mark.address: str(mark.value) for mark in draft.marks} if draft else {}
    inked = {note.get("address"): note["value"] for note in notes.all("inked") if "value" in note}
    for note in notes.all("pencilled"):
        address, value = note["address"], note["value"]
        if address == OTHER:  # it is undone on the way, and may be either then
            continue
        now = str(document.values().get(address))
        later = [n["value"] for n in notes.all("pencilled") if n["address"] == address][-1]
        if value == later:
            in_ink = now == value or inked.get(address) == value
            assert (held.get(address) == value) != in_ink, (
                f"{value}: in pencil {held.get(address)}, in ink {now}"
            )


def _whole(book: Book, folder: Path, act: str, notes: Notes) -> None:
    document = book.document(SEAT_ID)
    program = plain_git(folder, "show", f"HEAD:{PROGRAM}")
    inked = str(document.values()[ADDRESS])
    if act in (*SAVES, "restore"):
        before = inked == "612.350" and "(save" not in program
        assert before or f"(save {inked})" in program, "record and program are of two saves"
    drafts = plain_git(folder, "log", "--format=%(trailers:key=Draft,valueonly)").split()
    assert len(drafts) == len(set(drafts)), "one draft was inked twice"
    own = act in SAVES and (folder / PROGRAM).read_text() != program
    status = plain_git(folder, "status", "--porcelain").splitlines()
    assert status == ([f" M {PROGRAM}"] if own else []), f"git status: {status}"
    assert document.on_disk.found() is None, "a change on disk that nobody made"
    private = folder / ".git/witnessmark"
    assert not (private / "intent.json").exists(), "an intent is left"
    left = [p.name for p in folder.rglob("*") if p.name.startswith((".", "tree-")) and p.is_file()
            and ".git/" not in f"{p}/"]  # fmt: skip
    assert not left, f"left over: {left}"
    said = plain_git(folder, "fsck", "--strict", "--no-dangling", fails=True)
    assert not any(word in said for word in WRITTEN), f"git fsck: {said}"


def _no_means_no(book: Book, folder: Path, notes: Notes) -> None:
    """Who was told no has not been heard, unless it was said that it is in the history."""
    refused = notes.all("refused")
    if not refused or "in the history" in refused[-1]["text"]:
        return
    mine = plain_git(folder, "log", "--format=%H", "--grep=save 2").split()
    confirmed = [note["commit"] for note in notes.all("inked")]
    assert not set(mine) - set(confirmed), f"{refused[-1]['text']}, but it is in the history"
    draft = book.document(SEAT_ID).pencil.draft()
    held = {mark.address: str(mark.value) for mark in draft.marks} if draft else {}
    accepted = [(note["address"], note["value"]) for note in notes.all("pencilled")]
    extra = [one for one in held.items() if one not in accepted and one[0] != "lot.quantity"]
    assert not extra, f"{refused[-1]['text']}, but it is in pencil: {extra}"


def _next_save(book: Book, folder: Path) -> None:
    document = book.document(SEAT_ID)
    document.pencil.set("lot.quantity", "4321")
    done = document.ink("the next save")
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    assert document.pencil.draft() is None, "pencil is left after the next save"
    assert not list((folder / ".git/witnessmark").glob("tree-*"))
    assert plain_git(folder, "status", "--porcelain") == "", "git status after the next save"
    commit_by_hand(folder)
    assert plain_git(folder, "diff", done.commit, "HEAD") == "", "a commit by hand took it back"
    assert not (folder / INDEX_LOCK).exists(), "git's index is still locked"


def commit_by_hand(folder: Path) -> None:
    """What stands in git's index, committed by somebody who knows only git; git may refuse."""
    plain_git(folder, "commit", "--allow-empty", "-qm", "by hand", fails=True)
