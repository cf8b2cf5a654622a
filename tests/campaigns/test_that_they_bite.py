"""A campaign that finds nothing proves nothing, unless it finds what was put there.

Each fault of these would lose something, leave a book half done or fall over; the class named
beside it must say so.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.campaigns import disk, oracle
from tests.campaigns.acts import Boxes, opened, save
from tests.campaigns.children import Ended, Notes
from tests.campaigns.outcome import Kind, Outcome
from tests.campaigns.questions import judge
from tests.mini_book import plain_git

ROOT = Path(__file__).parents[2]
FAULTS = {
    "what is saved is not flushed": (
        "power-cuts",
        "import os; os.fsync = os.fdatasync = lambda handle: None",
        Kind.LOST,
    ),
    "git's index is left behind": (
        "kills",
        "from engine.repo.git_index import GitIndex as G; G._write = lambda self, blobs: None",
        Kind.WRONG,
    ),
    "a disk's no is not put into words": (
        "faults",
        "from engine.book.transaction import Inker; Inker.commit = Inker._commit",
        Kind.TRACEBACK,
    ),
}


@pytest.mark.skipif(bool(disk.why_not()), reason=disk.why_not())
@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found(name: str, tmp_path: Path) -> None:
    kind, fault, expected = FAULTS[name]
    run = f"from tests.campaigns.__main__ import main; main(['{kind}', '--cases', '40'])"
    done = subprocess.run(
        [sys.executable, "-c", f"{fault}\n{run}"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **disk.preload(tmp_path)},
    )
    assert f"    {expected.upper()} " in done.stdout, done.stdout + done.stderr


@pytest.fixture
def saved(tmp_path: Path) -> tuple[Path, Notes]:
    box, notes = Boxes(tmp_path).fresh("save")
    save(box / "book", notes, 2)
    return box, notes


def looked_at(box: Path, notes: Notes) -> set[Kind]:
    outcome = Outcome()
    oracle.look(outcome, "case", box, "save", notes)
    return {kind for kind, _, _ in outcome.complaints}


def test_a_sound_book_gives_no_complaint(saved: tuple[Path, Notes]) -> None:
    assert looked_at(*saved) == set()


def test_a_save_that_was_confirmed_and_is_gone_is_lost(saved: tuple[Path, Notes]) -> None:
    plain_git(saved[0] / "book", "reset", "-q", "--hard", "HEAD^")
    assert Kind.LOST in looked_at(*saved)


def test_pencil_that_was_accepted_and_is_gone_is_lost(saved: tuple[Path, Notes]) -> None:
    box, notes = saved
    notes.add("pencilled", address="positions.seat.reach", value="777.000")
    assert Kind.LOST in looked_at(box, notes)


def test_an_index_that_lies_behind_is_told(saved: tuple[Path, Notes]) -> None:
    plain_git(saved[0] / "book", "read-tree", "HEAD^")
    assert Kind.WRONG in looked_at(*saved)


def test_a_no_that_was_a_yes_is_told(saved: tuple[Path, Notes]) -> None:
    box, notes = saved
    opened(box / "book").document("wm-seat10").pencil.set("jaws.bite", "8.5")
    notes.add("refused", error="BookError", text="the disk refused", hint="")
    assert Kind.WRONG in looked_at(box, notes)


def test_answers_are_judged(tmp_path: Path) -> None:
    notes = Notes(tmp_path / "notes")
    notes.add("asks", name="list")
    notes.add("told", name="list", status=2, out="", err="something unexpected went wrong")
    notes.add("told", name="trace", status=2, out="", err="no such record")
    notes.add("told", name="show", status=2, out="\x1b[2J", err="")
    outcome = Outcome()
    judge(outcome, "case", Ended(-14), notes, past=True)
    found = [(kind, case) for kind, case, _ in outcome.complaints]
    assert (Kind.TRACEBACK, "case: list") in found
    assert (Kind.UNANSWERABLE, "case: trace") in found
    assert (Kind.UNANSWERABLE, "case: show") in found
    assert (Kind.WRONG, "case: show") in found
    assert (Kind.UNANSWERABLE, "case: list") in found, "it never ended"
