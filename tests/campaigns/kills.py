"""Killed at any point: before each system call, around each step of the program, at any moment.

calls    the process that makes the n-th call (the program or one of its gits) dies just before
         it, alone or with everything that belongs to it; needs the library of `disk`
steps    the program dies before or after its n-th step that touches the disk or starts git
random   one of several people who save in a row dies at any moment, alone or with its gits
"""

from __future__ import annotations

import os
import random
import secrets
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path

from engine.repo.git import Git
from tests.campaigns import children, disk, oracle
from tests.campaigns.acts import ACTS, Boxes, opened, save
from tests.campaigns.children import FELL_OVER, Notes
from tests.campaigns.disk import Call, Disk, Mode
from tests.campaigns.faults import work
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import BUSH, plain_git

STEPS = ("fsync", "fdatasync", "write", "replace", "unlink", "link", "rename", "mkdir")
ROW = 50  # saves in a row, of whoever is killed at a moment
_NAMES = 7  # the seed of names that are drawn
_exit = os._exit


def run(wanted: Wanted) -> Outcome:
    """A half by calls, a quarter by steps, a quarter at random; more by steps where there is no
    library.
    """
    outcome, boxes = Outcome(), Boxes(wanted.place)
    calls = 0 if disk.why_not() else wanted.cases // 2
    if calls:
        made = Disk()
        points = [point for act in ACTS for point in calls_of(act, boxes, made)]
        outcome.counts["calls there are"] = len(points)
        for point in wanted.some(points, kind=lambda p: p[:2], most=calls):
            at_call(*point, boxes=boxes, made=made, outcome=outcome)
    steps = [(act, n, name) for act in ACTS for n, name in enumerate(steps_of(act, boxes), 1)]
    outcome.counts["steps there are"] = len(steps)
    dice, moments = wanted.dice(), wanted.cases // 4
    for act, n, name in wanted.some(
        steps, kind=lambda p: p[0], most=wanted.cases - calls - moments
    ):
        at_step(act, n, name, boxes, outcome)
    for n in range(moments):
        at_a_moment(n, dice, boxes, outcome)
    return outcome


# calls


def calls_of(act: str, boxes: Boxes, made: Disk) -> list[tuple[str, Call, int, Mode]]:
    """Every call of an act that changes something, with both ways to die there."""
    box, notes = boxes.fresh(act)
    with made.ordered(Mode.COUNT, box):
        ended = children.run(lambda: work(act, box, notes), notes, group=True)
    assert ended.status == 0, f"{act} does not work at all: {notes.all()}"
    boxes.done_with(box)
    changing = {call: count for call, count in made.counts.items() if call != Call.READING}
    return [
        (act, call, n, mode)
        for call, count in changing.items()
        for n in range(1, count + 1)
        for mode in (Mode.KILL, Mode.KILL_ALL)
    ]


def at_call(
    act: str, call: Call, n: int, mode: Mode, *, boxes: Boxes, made: Disk, outcome: Outcome
) -> None:
    """Die just before one call."""
    box, notes = boxes.fresh(act)
    with made.ordered(mode, box, call, n):
        ended = children.run(lambda: work(act, box, notes), notes, group=True)
        outlived(box)
    case = f"{act}: {mode.name.lower()} at {call.name.lower()} {n}"
    if made.fired:
        outcome.cases += 1
        outcome.counts["program" if ended.status < 0 else "one of its gits"] += 1
        if ended.status == FELL_OVER:
            outcome.complain(Kind.TRACEBACK, case, notes.all("fell over")[-1]["text"])
        oracle.look(outcome, case, box, act, notes)
    boxes.done_with(box)


def outlived(box: Path, seconds: float = 5.0) -> None:
    """Wait for gits that outlived their caller and still work in this box."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for process in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                words = (process / "cmdline").read_bytes()
                if words.startswith(b"git\0") and b"cat-file" not in words:
                    here = (process / "cwd").readlink()
                    if box in (here, *here.parents):
                        break
        else:
            return
        time.sleep(0.02)


# steps


def dying(n: int, seen: list[str], notes: Notes | None) -> None:
    """End this process, hard, at its n-th step; `seen` collects the steps' names.

    Drawn names are the same in every child: else the ids of objects differ, and with them
    the folders that are made for them.
    """
    dice = random.Random(_NAMES)
    secrets.token_hex = lambda size=16: dice.randbytes(size).hex()  # type: ignore[assignment]

    def count(name: str) -> None:
        seen.append(name)
        if len(seen) == n:
            assert notes
            notes.add("dies", at=name)
            _exit(9)

    def around(name: str, call: Callable[..., object], *args: object, **named: object) -> object:
        count(f"before {name}")
        result = call(*args, **named)
        count(f"after {name}")
        return result

    for name in STEPS:
        setattr(os, name, partial(around, name, getattr(os, name)))
    usual = Git.run

    def git(self: Git, *words: str, **named: object) -> object:
        return around(f"git {words[0]}", usual, self, *words, **named)

    Git.run = git  # type: ignore[assignment,method-assign]


def steps_of(act: str, boxes: Boxes) -> list[str]:
    """The names of all steps of an act, in their order."""
    box, notes = boxes.fresh(act)

    def whole() -> None:
        seen: list[str] = []
        dying(0, seen, None)
        work(act, box, notes)
        notes.add("steps", names=list(seen))

    assert children.run(whole, notes).status == 0, f"{act} does not work at all: {notes.all()}"
    boxes.done_with(box)
    names: list[str] = notes.all("steps")[0]["names"]
    return names


def at_step(act: str, n: int, name: str, boxes: Boxes, outcome: Outcome) -> None:
    """Die at one step; that it was this one is in the notes."""
    box, notes = boxes.fresh(act)

    def part() -> None:
        dying(n, [], notes)
        work(act, box, notes)

    ended = children.run(part, notes)
    case = f"{act}: step {n} ({name})"
    died = notes.all("dies")
    if ended.status == 9 and died and died[0]["at"] == name:
        outcome.cases += 1
        outcome.counts["at steps"] += 1
        oracle.look(outcome, case, box, act, notes)
    else:
        outcome.counts["other steps than before"] += 1
    boxes.done_with(box)


# moments


def in_a_row(box: Path, notes: Notes) -> None:
    """Save after save."""
    for n in range(2, 2 + ROW):
        save(box / "book", notes, n)


def bystander(box: Path, notes: Notes) -> None:
    """Somebody else inks another record meanwhile."""
    book = opened(box / "book", "ole")
    for n in range(2, 2 + ROW):
        book.document(BUSH).pencil.set("lot.quantity", str(n))
        notes.add("inked", commit=book.document(BUSH).ink().commit)


def at_a_moment(n: int, dice: random.Random, boxes: Boxes, outcome: Outcome) -> None:
    """Kill one of one, two or three people, and the others a little later."""
    box, notes = boxes.fresh("save")
    group, others = dice.random() < 0.5, dice.randrange(3)
    theirs = [Notes(notes.path.with_suffix(f".{k}")) for k in range(others)]
    going = [children.start(lambda: in_a_row(box, notes), notes, group=group)]
    going += [children.start(partial(bystander, box, own), own, group=group) for own in theirs]
    time.sleep(dice.uniform(0.02, 0.3 + others / 4))
    for child in going:
        with suppress(ProcessLookupError):
            (os.killpg if group else os.kill)(child, signal.SIGKILL)
        children.wait(child)
        time.sleep(dice.uniform(0, 0.1) * bool(others))
    outlived(box)
    outcome.cases += len(going)
    outcome.counts["at a moment"] += len(going)
    case = f"moment {n}, {len(going)} people, {'with' if group else 'without'} their gits"
    oracle.look(outcome, case, box, "save", notes)
    past = plain_git(box / "book", "rev-list", "--reverse", "HEAD").split()
    for own in theirs:
        with outcome.looking(case, Kind.LOST):
            places = [past.index(note["commit"]) for note in own.all("inked")]
            assert places == sorted(places), "a bystander's saves are out of order"
    boxes.done_with(box)
