"""How the loader moves: time of each leg, speed of the fingers, way to stop.

Times in s at full speed, ways in mm, speeds in mm/s. Over the tray a leg is gone
through for every pocket in use: the mean is what a lot feels, the worst is what
a single cycle may take. Teaching is judged at the percentage that the cell keeps
to while positions are taught; where the cell names none, at the lowest stage of
the record, since nobody stands nearer at a higher one.
"""

from __future__ import annotations

from collections.abc import Callable

from engine.figures.geometry.axes import above_zero, cell_of
from engine.figures.geometry.grid import name_of
from engine.figures.mechanics.legs import in_order, leg_of, way_of
from engine.figures.mechanics.profile import stopping_distance
from engine.figures.mechanics.travel import (
    approach_to,
    approaching,
    full_percent,
    mover,
    seconds_by_pocket,
    stages,
    tip_speed,
)
from engine.figures.model import (
    Facts,
    Figure,
    FigureKind,
    Missing,
    both,
    gather,
    judge,
    known,
    lacking,
)

_LYNCH = "Lynch and Park, Modern Robotics, 2017, section 9.2 (from memory)"
_FORMULA = (
    "moves of the leg one after another, each from rest to rest: d/v + v/2·(1/a + 1/b) where the "
    "speed is reached, else a triangle; straight: the smallest speed, acceleration and braking "
    "that all axes allow along the line; free: the slowest axis; the approach at its own speed, "
    "never above the stage's; percent scales speed only"
)
LEG = FigureKind(
    "leg time", "motion", "s", _FORMULA + "; over the tray the mean of all pockets", _LYNCH
)
WORST = FigureKind(
    "leg time, worst pocket", "motion", "s", _FORMULA + "; the slowest pocket", _LYNCH
)
TIP = FigureKind(
    "tip speed",
    "motion",
    "mm/s",
    "resultant of the loader's axes at the fingers, each at the highest speed it reaches; rotary "
    "axes by their radius; at full speed",
    "mechanics",
)
_ISO = "ISO 10218-1:2011, 5.6.2 and 5.7.3, manual reduced speed, 250 mm/s (from memory)"
TEACHING = FigureKind(
    "tip speed at teaching",
    "motion",
    "mm/s",
    "tip speed at the percent that the cell keeps to at teaching, else at the lowest stage, "
    "against the policy's highest speed at teaching",
    _ISO,
    bound="most",
    tight_share=0.1,
)
PERCENT = FigureKind(
    "percent for teaching",
    "motion",
    "%",
    "the policy's highest speed at teaching as a share of the fastest that any leg can bring "
    "the fingers to, its axes at full speed together; at most 100",
    _ISO,
)
STOP = FigureKind(
    "stopping distance",
    "motion",
    "mm",
    "approach speed x reaction time + (approach speed)² / (2 x braking along the way of the "
    "fingers), against the length of the approach; at full speed",
    "mechanics: way at even speed and under even braking",
    bound="most",
)


def teaching_percent(facts: Facts) -> tuple[float, str]:
    """The percentage at which positions are taught, and where it comes from in words."""
    named = cell_of(facts).cell.teaching_percent
    if named is not None:
        percent = above_zero(facts, "cell.teaching_percent")
        return percent, "the percent that the cell keeps to at teaching"
    return min(stages(facts)), "the lowest stage; the cell names no percent for teaching"


def stopping(facts: Facts, leg: str) -> float:
    """Way in mm to stop from the approach at the end of a leg, at the worst pocket."""
    way, station = way_of(facts, leg), leg_of(facts, leg).end
    approach, (reaction,) = both(
        lambda: approach_to(facts, station), lambda: facts.of_cell("times.reaction")
    )
    if approach is None or not way.moves:
        return 0.0
    last = mover(facts, way, approaching(facts, way), tip=True)
    able = (last.along_tip(n) for n in range(len(last.lengths)))
    stops = (
        stopping_distance(min(approach.speed, one.speed), reaction, one.braking)
        for one in able
        if one is not None
    )
    return max(stops, default=0.0)


def figures(facts: Facts) -> list[Figure]:
    """Times, tip speeds and stopping distances of every leg."""
    try:
        legs = known(in_order(facts) or None, "cell:legs")
    except Missing as error:
        return [judge(kind, "", lacking(error)) for kind in (LEG, TEACHING, STOP)]
    found = [figure for leg in legs for figure in _of_leg(facts, leg)]
    return [*found, judge(PERCENT, "", lambda: _percent(facts, legs))]


def _of_leg(facts: Facts, leg: str) -> list[Figure]:
    found = _times(facts, leg)
    found.append(judge(TIP, leg, lambda: tip_speed(facts, leg)))
    found.append(_teaching(facts, leg))
    if _has_approach(facts, leg):
        found.append(judge(STOP, leg, lambda: stopping(facts, leg), lambda: _length(facts, leg)))
    return found


def _times(facts: Facts, leg: str) -> list[Figure]:
    """The time of a leg; over the tray its mean, and the worst pocket by name."""
    try:
        times = seconds_by_pocket(facts, leg)
    except Missing as error:
        return [judge(LEG, leg, lacking(error))]
    mean = sum(times) / len(times)
    if len(times) == 1:
        return [judge(LEG, leg, lambda: mean)]
    worst = max(range(len(times)), key=times.__getitem__)
    start, end = way_of(facts, leg).pairs[worst]
    where = name_of(end) if start == end else f"{name_of(start)} to {name_of(end)}"
    return [
        judge(LEG, leg, lambda: mean, note=f"mean of {len(times)} pockets"),
        judge(WORST, leg, lambda: times[worst], note=where),
    ]


def _teaching(facts: Facts, leg: str) -> Figure:
    def limit() -> float:
        return facts.of_policy("teaching_speed_most")[0]

    try:
        percent, words = teaching_percent(facts)
    except Missing as error:
        return judge(TEACHING, leg, lacking(error), limit)
    note = f"at {percent:g} %: {words}"
    return judge(TEACHING, leg, lambda: tip_speed(facts, leg, percent), limit, note)


def _has_approach(facts: Facts, leg: str) -> bool:
    try:
        return approach_to(facts, leg_of(facts, leg).end) is not None
    except Missing:
        return True


def _length(facts: Facts, leg: str) -> float:
    return facts.length(f"approach.{leg_of(facts, leg).end}.length")[0]


def _percent(facts: Facts, legs: list[str]) -> float:
    (limit,) = facts.of_policy("teaching_speed_most")
    each = gather(*(_for_leg(facts, leg, limit) for leg in legs))
    return min(100.0, *each)


def _for_leg(facts: Facts, leg: str, limit: float) -> Callable[[], float]:
    return lambda: full_percent(facts, leg, limit)
