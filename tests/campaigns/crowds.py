"""Eight people save into one book at the same time, while it and a clone of it sync and save, too.

What each was told is in their notes; in the end all boxes sync and are equal, and every save of
everybody is in plain git's log, in the saver's order, with its value, and in the trace.
"""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path

from schemas.errors import Refused
from tests.campaigns import children
from tests.campaigns.acts import CREW, Boxes, opened
from tests.campaigns.children import Notes
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import BUSH_ID, SEAT_ID, plain_git

SAVERS = len(CREW)
SYNCS = 1 / 10  # a clone syncs and saves so often for each save of a saver
LIMIT = 3600.0  # seconds for a whole crowd; bounded, never near


def run(wanted: Wanted) -> Outcome:
    """`cases` saves by eight people; two clones sync meanwhile."""
    outcome, place = Outcome(), Boxes(wanted.place)
    box, _ = place.fresh("sync")
    plain_git(box / "other", "pull", "-q", "--no-rebase", "origin", "main")
    each = max(1, wanted.cases // SAVERS)
    jobs = [(f"saver {k}", partial(saver, box / "book", k, each)) for k in range(SAVERS)]
    rounds = max(2, int(each * SYNCS))
    jobs += [
        (f"clone {k}", partial(clone, box / name, k, rounds))
        for k, name in enumerate(("book", "other"))
    ]
    notes = {name: Notes(wanted.place / f"{name}.notes") for name, _ in jobs}
    going = [(name, children.start(partial(job, notes[name]), notes[name])) for name, job in jobs]
    for name, child in going:
        ended = children.wait(child, LIMIT)
        for note in notes[name].all("fell over"):
            outcome.complain(Kind.TRACEBACK, name, note["text"])
        for note in notes[name].all("refused"):
            outcome.complain(Kind.WRONG, name, note["text"])
        if not ended.in_time:
            outcome.complain(Kind.WRONG, name, "never ended")
    _meet(box, outcome)
    for name, own in notes.items():
        outcome.cases += len(own.all("inked"))
        outcome.counts["syncs"] += len(own.all("synced"))
        outcome.counts["syncs that wait"] += sum(
            bool(note["problem"]) for note in own.all("synced")
        )
        for folder in (box / "book", box / "other"):
            with outcome.looking(f"{name} in {folder.name}", Kind.LOST):
                _all_there(folder, own)
    _traced(box / "book", list(notes.values()), outcome)
    return outcome


def saver(folder: Path, k: int, each: int, notes: Notes) -> None:
    """Saves of one person, each of a tool's length of their own; every second one opens the book
    anew.
    """
    record = (SEAT_ID, BUSH_ID)[k % 2]
    address = f"tools.T{20 + k}.length"
    book = opened(folder, CREW[k])
    for n in range(each):
        if n % 2:
            book.close()
            book = opened(folder, CREW[k])
        value = f"{10 + n}.{k}{os.getpid() % 10}5"
        _save(book, record, address, value, notes)
    book.close()


def clone(folder: Path, k: int, rounds: int, notes: Notes) -> None:
    """Saves, and syncs after each; what could not be sent waits for the next one."""
    book = opened(folder, ("mira", "ole")[k])
    for n in range(rounds):
        _save(book, BUSH_ID, f"tools.T{40 + k}.length", f"{30 + n}.5", notes)
        try:
            done = book.sync()
        except Refused as error:  # others sync or save for long: said, and nothing is lost
            notes.add("synced", problem=str(error))
        else:
            notes.add("synced", problem=done.problem)
    book.close()


def _save(book, record: str, address: str, value: str, notes: Notes) -> None:
    document = book.document(record)
    document.pencil.set(address, value)
    done = document.ink("measured")
    notes.add("inked", record=record, address=address, value=value, commit=done.commit)


def _meet(box: Path, outcome: Outcome) -> None:
    """All boxes sync until nothing waits; then they are equal."""
    with outcome.looking("meeting in the end"):
        for name in ("book", "other", "book"):
            book = opened(box / name, "ole")
            problem = book.sync().problem
            assert not problem, problem
            book.close()
        heads = {
            plain_git(box / name, "rev-parse", "main").strip()
            for name in ("book", "other", "hub.git")
        }
        assert len(heads) == 1, f"the boxes differ: {heads}"
        for name in ("book", "other"):
            assert plain_git(box / name, "status", "--porcelain") == "", f"{name}: git status"
        assert "error" not in plain_git(box / "hub.git", "fsck", "--strict", fails=True)


def _all_there(folder: Path, notes: Notes) -> None:
    past = {
        commit: n
        for n, commit in enumerate(
            plain_git(folder, "rev-list", "--reverse", "--topo-order", "HEAD").split()
        )
    }
    inked = [note["commit"] for note in notes.all("inked")]
    gone = [commit[:10] for commit in inked if commit not in past]
    assert not gone, f"confirmed, and not in the history: {gone}"
    places = [past[commit] for commit in inked]
    assert places == sorted(places), "confirmed saves are out of order"


def _traced(folder: Path, notes: list[Notes], outcome: Outcome) -> None:
    book = opened(folder)
    for own in notes:
        inked = own.all("inked")
        if not inked:
            continue
        with outcome.looking(f"trace of {inked[0]['address']}", Kind.UNANSWERABLE):
            traced = book.document(inked[0]["record"]).past.trace(inked[0]["address"])
            told = [(item.commit, str(item.change.new)) for item in traced]
            wanted = [(note["commit"], note["value"]) for note in inked]
            assert told == wanted, f"{len(told)} rows for {len(wanted)} saves"
            text = plain_git(
                folder,
                "show",
                f"{inked[-1]['commit']}:records/{book.document(inked[0]['record']).name}.toml",
            )
            assert inked[-1]["value"] in text
    book.close()
