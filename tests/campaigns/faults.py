"""A disk that refuses: one call of one kind fails, or everything from that call on.

Each act is first done on a disk that counts, then once for each call, error and way. The library
proves that the fault was made; a case in which it was not is not counted. Afterwards the disk is
well again, and the oracle looks: nothing acknowledged is lost, a no was no yes, the next save
works.
"""

from __future__ import annotations

import errno
from pathlib import Path

from tests.campaigns import children, disk, oracle
from tests.campaigns.acts import ACTS, Act, Boxes
from tests.campaigns.children import FELL_OVER, Notes
from tests.campaigns.disk import ERRORS, Call, Disk, Mode
from tests.campaigns.outcome import Kind, Outcome, Wanted

ON_THE_DISK = ("save", "pencil", "run", "sign-off", "sync", "init")
Point = tuple[str, Call, int, int, Mode]  # act, call, n-th, error, once or from then on


def run(wanted: Wanted) -> Outcome:
    """As many faults as wanted, spread over all of them."""
    outcome = Outcome(left_out=disk.why_not())
    if outcome.left_out:
        return outcome
    boxes, made = Boxes(wanted.place), Disk()
    points = [point for act in ON_THE_DISK for point in points_of(act, boxes, made)]
    outcome.counts["points there are"] = len(points)
    for point in wanted.some(points, kind=lambda point: point[:2]):
        one(point, boxes, made, outcome)
    return outcome


def counted(act: str, boxes: Boxes, made: Disk) -> dict[Call, int]:
    """How many calls of each kind an act makes on a healthy disk."""
    box, notes = boxes.fresh(act)
    with made.ordered(Mode.COUNT, box):
        ended = children.run(lambda: work(act, box, notes), notes)
    assert ended.status == 0, f"{act} does not work at all: {notes.all()}"
    boxes.done_with(box)
    return made.counts


def points_of(act: str, boxes: Boxes, made: Disk) -> list[Point]:
    """Every call that may fail, with every way to fail."""
    return [
        (act, call, n, error, mode)
        for call, count in counted(act, boxes, made).items()
        for error in ERRORS[call]
        for mode in (Mode.ONCE, Mode.FROM_THEN_ON)
        if mode == Mode.ONCE or call != Call.LOCK
        for n in range(1, count + 1)
    ]


def work(act: str, box: Path, notes: Notes) -> None:
    """The act itself, in a child."""
    chosen: Act = ACTS[act]
    chosen(box / "book", notes, 2)


def one(point: Point, boxes: Boxes, made: Disk, outcome: Outcome) -> None:
    """One fault and what it leaves."""
    act, call, n, error, mode = point
    box, notes = boxes.fresh(act)
    with made.ordered(mode, box, call, n, error):
        ended = children.run(lambda: work(act, box, notes), notes)
    case = f"{act}: {errno.errorcode[error]} at {call.name.lower()} {n}, {mode.name.lower()}"
    if made.fired:
        outcome.cases += 1
        outcome.counts["refused" if ended.status else "went on"] += 1
        if ended.status == FELL_OVER:
            outcome.complain(Kind.TRACEBACK, case, notes.all("fell over")[-1]["text"])
        if not ended.in_time:
            outcome.complain(Kind.WRONG, case, "never ended")
        oracle.look(outcome, case, box, act, notes)
    boxes.done_with(box)
