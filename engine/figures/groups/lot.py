"""How a lot is laid in: fills and refills of the tray, and when someone must be there.

Counts are pieces. Blanks needed = ordered + those that may be lost + samples +
one for each stage of prove-out after the first, which runs without a blank; of
these only what the record names is counted, and the note says what it does not
name. Clock times are worked out in UTC from a start that is passed in, and shown
in the start's own zone, so that midnight and a change of the clocks come out
right. Times are at an even mean cycle, prove-out not included.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from engine.figures.geometry import grid
from engine.figures.groups import cycle
from engine.figures.inputs import Facts, Missing, both, known
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge

MOST_PIECES = 10_000_000  # more is a slip of the key, and no lot

_COUNT = "arithmetic; common practice, no source"
BLANKS = FigureKind(
    "blanks needed",
    "lot",
    "pieces",
    "ordered + may be lost + samples + one for each stage of prove-out after the first",
    _COUNT,
    section="lot",
)
A_FILL = FigureKind(
    "blanks in a fill",
    "lot",
    "pieces",
    "pockets across x along - unused ones - those the cell leaves empty for parts that come back "
    "before a blank is taken; at least one",
    _COUNT,
    bound="least",
    tight_share=0.0,
    section="lot",
)
FILLS = FigureKind(
    "fills", "lot", "fills", "blanks needed / blanks in a fill, upwards", _COUNT, section="lot"
)
REFILLS = FigureKind(
    "refills",
    "lot",
    "refills",
    "fills - 1",
    _COUNT,
    section="lot",
)
LAST_FILL = FigureKind(
    "last fill",
    "lot",
    "pieces",
    "blanks needed - blanks in a fill x refills",
    _COUNT,
    section="lot",
)
_TIMES = "first round + (blanks in the fill - 1) x cycle + last round; at full speed"
UNATTENDED = FigureKind(
    "unattended",
    "lot",
    "h",
    _TIMES + ": from a full tray to its last part given back",
    _COUNT,
    section="lot",
)
EMPTY = FigureKind(
    "tray empty after",
    "lot",
    "h",
    "first round + (blanks in the fill - 1) x cycle: the last blank is in the jaws; at full speed",
    _COUNT,
    section="lot",
)
LOT = FigureKind(
    "lot time",
    "lot",
    "h",
    "all fills one after another, each " + _TIMES + "; where the cell leaves pockets empty the "
    "cycle goes on over a refill; the time that refilling takes is not in it",
    _COUNT,
    section="lot",
)


@dataclass(frozen=True, slots=True)
class Split:
    """A number of blanks over equal fills; `last` is what the last fill holds."""

    fills: int
    refills: int
    last: int


def split(blanks: int, pockets: int) -> Split:
    """Fills, refills and the last fill: 130 blanks in 36 pockets are 4, 3 and 22."""
    if blanks <= 0:
        return Split(0, 0, 0)
    fills = -(-blanks // pockets)
    return Split(fills, fills - 1, blanks - pockets * (fills - 1))


def blanks_needed(facts: Facts) -> int:
    """Blanks to lay in for the lot; `Missing` only without the quantity ordered."""
    extra = sum(count or 0 for count in _extras(facts).values())
    ordered = int(known(facts.find("lot.quantity"), "lot.quantity"))
    if max(ordered, extra) > MOST_PIECES:
        raise Missing("lot.quantity" if ordered > MOST_PIECES else "lot.scrap_allowed")
    return max(0, ordered) + max(0, extra)


def _extras(facts: Facts) -> dict[str, int | None]:
    """What is counted beside the order; None for what the record does not name."""
    stages = facts.find("lot.stages")
    return {
        "may be lost": facts.find("lot.scrap_allowed"),
        "samples": facts.find("lot.samples"),
        "at the stages": None if stages is None else max(0, len(stages) - 1),
    }


def blanks_in_fill(facts: Facts) -> int:
    """Blanks that one fill brings; may be zero or less where pockets are kept empty."""
    return len(grid.used(facts)) - _kept_empty(facts)


def _kept_empty(facts: Facts) -> int:
    facts.need_cell()
    return int(facts.find("cell:bed.keep_empty") or 0)


def split_of(facts: Facts) -> Split:
    """The record's lot over its tray."""
    blanks, pockets = both(lambda: blanks_needed(facts), lambda: blanks_in_fill(facts))
    if pockets < 1:
        raise Missing("tray.across", "tray.along")
    return split(blanks, pockets)


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds of a lot: first and last round, cycle, and whether a refill stops the machine."""

    first: float
    cycle: float
    last: float
    goes_on: bool  # a pocket is left for the last part: refilled while the machine cuts it


@dataclass(frozen=True, slots=True)
class FillTimes:
    """One fill in s from the start of the lot.

    `empty`: its last blank is in the jaws and the door closed. `done`: its last
    part is given back (where the loader goes on: the machine is done with it).
    """

    number: int
    blanks: int
    begins: float
    empty: float
    done: float


def pace_of(facts: Facts, percent: float = 100.0) -> Pace:
    """The pace of the record's lot at a percentage of full speed."""
    return facts.once(f"lot.pace@{percent}", lambda: _pace(facts, percent))


def _pace(facts: Facts, percent: float) -> Pace:
    (first, last), seconds = both(
        lambda: both(lambda: cycle.first(facts, percent), lambda: cycle.last(facts, percent)),
        lambda: cycle.cycle(facts, percent),
    )
    return Pace(first, seconds, last, bool(_kept_empty(facts)))


def spans(counts: Split, pockets: int, pace: Pace, refill: float = 0.0) -> Iterator[FillTimes]:
    """Every fill one after another; `refill` is how long the machine stands for each, in s.

    Where the loader goes on, `refill` is taken to fit within the machining.
    """
    begins = 0.0
    for number in range(1, counts.fills + 1):
        blanks = counts.last if number == counts.fills else pockets
        lead = pace.cycle if pace.goes_on and number > 1 else pace.first
        empty = begins + lead + (blanks - 1) * pace.cycle
        yield FillTimes(number, blanks, begins, empty, empty + pace.last)
        begins = empty if pace.goes_on else empty + pace.last + refill


@dataclass(frozen=True, slots=True)
class Fill:
    """One fill by the clock, in the zone of the start."""

    number: int
    blanks: int
    begins: datetime
    empty: datetime
    done: datetime


def clock(facts: Facts, start: datetime, percent: float = 100.0, refill: float = 0.0) -> list[Fill]:
    """When each fill begins, is empty and is done; refills are the fills after the first.

    `start` must know its zone (ValueError where it does not); `refill` in s.
    `Missing` where the pace cannot be told. Error: that of the cycle, times the
    pieces; a jam or a tool change comes on top.
    """
    if start.utcoffset() is None:
        raise ValueError("the start needs its time zone")
    counts, pace = both(lambda: split_of(facts), lambda: pace_of(facts, percent))
    base = start.astimezone(UTC)

    def at(seconds: float) -> datetime:
        return (base + timedelta(seconds=seconds)).astimezone(start.tzinfo)

    every = spans(counts, blanks_in_fill(facts), pace, refill)
    return [Fill(s.number, s.blanks, at(s.begins), at(s.empty), at(s.done)) for s in every]


def lot_seconds(counts: Split, pockets: int, pace: Pace) -> float:
    """Time of the whole lot in s without refilling, by sums rather than fill by fill."""
    if not counts.fills:
        return 0.0
    if pace.goes_on:
        pieces = pockets * counts.refills + counts.last
        return pace.first + (pieces - 1) * pace.cycle + pace.last
    around = (pace.first + pace.last - pace.cycle) * counts.fills
    return around + (pockets * counts.refills + counts.last) * pace.cycle


def figures(facts: Facts) -> list[Figure]:
    """Fills and refills of the record's lot, and how long nobody is needed."""
    note = _note(facts)
    return [
        judge(facts, BLANKS, "lot", lambda: float(blanks_needed(facts)), note=note),
        judge(facts, A_FILL, "tray", lambda: float(blanks_in_fill(facts)), lambda: 1.0),
        judge(facts, FILLS, "lot", lambda: float(split_of(facts).fills), note=note),
        judge(facts, REFILLS, "lot", lambda: float(split_of(facts).refills), note=note),
        judge(facts, LAST_FILL, "lot", lambda: float(split_of(facts).last), note=note),
        judge(facts, EMPTY, "full tray", lambda: _full_tray(facts).empty / 3600),
        judge(facts, UNATTENDED, "full tray", lambda: _full_tray(facts).done / 3600),
        judge(facts, LOT, "lot", lambda: _whole(facts) / 3600),
    ]


def _full_tray(facts: Facts) -> FillTimes:
    """The first fill, as many blanks as there are and need be."""
    counts, pace = both(lambda: split_of(facts), lambda: pace_of(facts))
    first = next(spans(counts, blanks_in_fill(facts), pace), None)
    return first or FillTimes(1, 0, 0.0, 0.0, 0.0)


def _whole(facts: Facts) -> float:
    counts, pace = both(lambda: split_of(facts), lambda: pace_of(facts))
    return lot_seconds(counts, blanks_in_fill(facts), pace)


def _note(facts: Facts) -> str:
    extras = _extras(facts)
    counted = [f"{count} {what}" for what, count in extras.items() if count]
    unnamed = [what for what, count in extras.items() if count is None]
    words = [f"ordered + {' + '.join(counted)}"] if counted else []
    words += [f"not named, counted as none: {', '.join(unnamed)}"] if unnamed else []
    return "; ".join(words)
