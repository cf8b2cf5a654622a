"""Books that mean harm: each input is laid into a copy of the little book, then everything is
asked.

The inputs are combined from small tables, one module for each kind of place that a stranger can
write to. After each, every question is put to the book (`questions`), somebody works in it, and
then: nothing of the book was carried out (a canary), nothing outside of it was written, no
traceback, and where the past is sound, every question about it was answered.
"""

from __future__ import annotations

import os
import signal
import stat
from functools import partial
from pathlib import Path

from schemas.errors import WitnessmarkError
from tests.campaigns import children, questions
from tests.campaigns.acts import Boxes, opened
from tests.campaigns.children import Notes
from tests.campaigns.hostile import (
    configurations,
    environments,
    hand_commits,
    journals,
    meeting_points,
    private_files,
    repositories,
    work_trees,
)
from tests.campaigns.hostile.input import CANARY, Input, Room
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import BUSH_ID, SEAT_ID, plain_git

ROOMS = (configurations, repositories, private_files, journals, hand_commits, environments,
work_trees,
         meeting_points)  # fmt: skip
LIMIT = 600.0  # seconds for all questions of one input: bounded, never near


def inputs() -> list[Input]:
    """Every input there is."""
    return [one for room in ROOMS for one in room.inputs()]


def run(wanted: Wanted) -> Outcome:
    """As many inputs as wanted, of each room alike."""
    outcome, boxes = Outcome(), Boxes(wanted.place)
    for name in ("HOME", "XDG_RUNTIME_DIR"):
        os.environ[name] = str(wanted.place)
    everything = [one for one in inputs() if wanted.only in f"{one.room}: {one.name}"]
    outcome.counts["inputs there are"] = len(everything)
    for one in wanted.some(everything, kind=lambda each: each.room):
        outcome.cases += 1
        outcome.counts[one.room] += 1
        _try(one, boxes, outcome)
    return outcome


def _try(one: Input, boxes: Boxes, outcome: Outcome) -> None:
    box, notes = boxes.fresh("sync")
    case = f"{one.room}: {one.name}"
    room = Room(box)
    room.prepare()
    done = children.run(partial(one.make, room), notes)
    if done.status:
        outcome.complain(Kind.WRONG, case, f"could not be made: {notes.all()}")
        boxes.done_with(box)
        return
    outside = _seen(room.outside)
    ask = partial(questions.ask, room.book, notes, box)
    if one.environment:
        ask = partial(questions.afresh, room.book, notes, box, one.environment)
    ended = children.run_and_sweep(ask, notes, LIMIT)
    questions.judge(outcome, case, ended, notes, past=one.past)
    own = Notes(notes.path.with_suffix(".acts"))
    ended = children.run_and_sweep(partial(_work, room, own, sync=one.syncs), own, LIMIT)
    for note in own.all("fell over"):
        outcome.complain(Kind.TRACEBACK, f"{case}: at work", f"{note['text']} {note['at'][-160:]}")
    if ended.status == -signal.SIGALRM or not ended.in_time:
        last = (own.all("does") or [{"act": "start"}])[-1]["act"]
        outcome.complain(Kind.UNANSWERABLE, f"{case}: at work: {last}", "never ended")
    with outcome.looking(f"{case}: at work", Kind.LOST):
        _kept(room, own)
    if room.canary.exists():
        outcome.complain(Kind.RAN, case, f"was carried out: {room.canary.read_text()}")
    after = _seen(room.outside)
    changed = [
        path
        for path in {**outside, **after}
        if outside.get(path) != after.get(path) and path != CANARY
    ]
    if changed:
        outcome.complain(Kind.RAN, case, f"written outside the book: {changed}")
    boxes.done_with(box)


def _work(room: Room, notes: Notes, *, sync: bool) -> None:
    """Somebody works in the book as if nothing were; a no in words is an answer."""
    os.chdir(room.box)
    acts = {
        "other pencil": lambda b: b.document(BUSH_ID).pencil.set("lot.quantity", "31"),
        "other ink": lambda b: notes.add("inked", commit=b.document(BUSH_ID).ink("at work").commit),
        "pencil": lambda b: b.document(SEAT_ID).pencil.set("positions.seat.lift", "149.125"),
        "undo": lambda b: b.document(SEAT_ID).pencil.undo(),
        "redo": lambda b: b.document(SEAT_ID).pencil.redo(),
        "ink": lambda b: notes.add("inked", commit=b.document(SEAT_ID).ink("at work").commit),
        "run": lambda b: notes.add("inked", commit=b.document(SEAT_ID).runs.start(5).commit),
        "restore": lambda b: notes.add(
            "inked", commit=b.document(SEAT_ID).restore("ink-1", "", "back").commit
        ),
        "rub out": lambda b: b.document(SEAT_ID).pencil.rub_out(),
        "put back": lambda b: b.document(SEAT_ID).on_disk.put_back(),
        "list": lambda b: b.list_records(),
        "upgrade": lambda b: b.upgrade(),
        "waiting": lambda b: b.waiting(),
        **({"sync": lambda b: b.sync()} if sync else {}),
    }
    for name, act in acts.items():
        notes.add("does", act=name)
        signal.alarm(questions.BOUND)
        try:
            book = opened(room.book)
            try:
                act(book)
            finally:
                book.close()
        except WitnessmarkError as error:
            notes.add("said no", act=name, text=str(error))
        except Exception as error:  # each act's own edge: the next one is tried all the same
            place = error.__traceback__
            while place and place.tb_next:
                place = place.tb_next
            at = f"{place.tb_frame.f_code.co_filename}:{place.tb_lineno}" if place else ""
            notes.add("fell over", text=f"{name}: {type(error).__name__}: {error}", at=at)
        signal.alarm(0)


def _kept(room: Room, notes: Notes) -> None:
    """What was confirmed meanwhile is in plain git's log."""
    inked = [note["commit"] for note in notes.all("inked")]
    for path in (room.book / ".git").rglob("*"):
        if stat.S_ISFIFO(path.lstat().st_mode):
            path.unlink()  # plain git would wait for ever for who writes into it
    if inked:
        past = plain_git(room.book, "rev-list", "HEAD").split()
        assert set(inked) <= set(past), (
            f"confirmed, and not in the history: {set(inked) - set(past)}"
        )


def _seen(folder: Path) -> dict[str, tuple[int, bytes]]:
    """What lies in a folder: kind and bytes by path; nothing is followed, no pipe is opened."""
    found = {}
    for path in sorted(folder.rglob("*")):
        is_ = path.lstat()
        data = path.read_bytes() if stat.S_ISREG(is_.st_mode) else b""
        found[str(path.relative_to(folder))] = (is_.st_mode, data)
    return found


__all__ = ["inputs", "run"]
