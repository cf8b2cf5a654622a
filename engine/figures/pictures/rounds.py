"""The bars of one round, step by step and as what machine and loader do; all times are s.

Invariant: starts and lengths are those of the cycle's figures, at the mean pocket.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.figures.groups.cycle import bars, cycle, first, last
from engine.figures.inputs import Facts, Missing
from engine.views.pictures import CycleBar, RoundBars, Which

_FULL = 100.0
_NOTHING = 1e-6  # s, below which nobody waits


def staged_round(facts: Facts, which: Which, stage: int) -> RoundBars:
    """A round at full speed (stage 0) or at a stage of prove-out; after the last, from anew."""
    stages = facts.find("lot.stages") or ()
    percents = [_FULL, *(float(percent) for percent in stages if percent != _FULL)]
    return round_bars(facts, which, percents[stage % len(percents)])


def round_bars(facts: Facts, which: Which = "steady", percent: float = _FULL) -> RoundBars:
    """The steady round, the first or the last one, at a percentage of full speed."""
    try:
        found = tuple(bars(facts, percent, which))
        seconds = {"steady": cycle, "first": first, "last": last}[which](facts, percent)
    except Missing as error:
        return RoundBars(which, percent, missing=error.addresses)
    hourly = 3600 / seconds if which == "steady" and seconds > 0 else None
    return RoundBars(which, percent, seconds, hourly, found, *_lanes(found))


def _lanes(found: Sequence[CycleBar]) -> tuple[tuple[CycleBar, ...], tuple[CycleBar, ...]]:
    """Machine and loader over the whole round; nothing where no machining is in it."""
    cuts = next((bar for bar in found if bar.kind == "machining"), None)
    if cuts is None:
        return (), ()
    end = max(bar.end for bar in found)
    rest = "waits" if cuts.start else "stands"
    machine = (
        CycleBar("stands", 0.0, cuts.start),
        CycleBar("cuts", cuts.start, cuts.length),
        CycleBar(rest, cuts.end, end - cuts.end),
    )
    return machine, tuple(_loader(found, end))


def _loader(found: Sequence[CycleBar], end: float) -> list[CycleBar]:
    """What the loader does, its steps joined to stretches; waiting where it has none."""
    lane: list[CycleBar] = []
    for bar in [*(bar for bar in found if bar.kind == "loader"), CycleBar("", end, 0.0)]:
        busy = lane[-1].end if lane else 0.0
        if bar.start - busy > _NOTHING:
            lane.append(CycleBar("waits", busy, bar.start - busy))
        if bar.name and lane and lane[-1].name == "works":
            lane[-1] = CycleBar("works", lane[-1].start, lane[-1].length + bar.length)
        elif bar.name:
            lane.append(CycleBar("works", bar.start, bar.length))
    return lane
