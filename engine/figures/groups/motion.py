"""How the loader moves: time of each leg, speed of the fingers, way to stop.

Times in s at full speed, ways in mm, speeds in mm/s. Over the tray a leg is gone
through for every pocket in use: the mean is what a lot feels, the worst is what
a single cycle may take. Teaching is judged at the percentage that the cell keeps
to while positions are taught; where the cell names none, at the lowest stage of
the record, since nobody stands nearer at a higher one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from engine.figures.cell import above_zero, end_of
from engine.figures.inputs import Facts, Missing, both, gather, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.legs import needed_in_order, way_of
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
from engine.figures.verdicts import judge
from schemas.pocket import name_of

_LYNCH = (
    "Lynch and Park, Modern Robotics: Mechanics, Planning, and Control, 2017, section 9.2 "
    "(from memory)"
)
_FORMULA = (
    "moves of the leg one after another, each from rest to rest: d/v + v/2·(1/a + 1/b) where the "
    "speed is reached, else a triangle; straight: the smallest speed, acceleration and braking "
    "that all axes allow along the line; free: the slowest axis; the approach at its own speed, "
    "never above the stage's; percent scales speed only"
)
LEG = FigureKind(
    "leg time",
    "motion",
    "s",
    _FORMULA + "; over the tray the mean of all pockets",
    _LYNCH,
    section="approach",
)
WORST = FigureKind(
    "leg time, worst pocket",
    "motion",
    "s",
    _FORMULA + "; the slowest pocket",
    _LYNCH,
    section="approach",
)
TIP = FigureKind(
    "tip speed",
    "motion",
    "mm/s",
    "resultant of the loader's axes at the fingers, each at the highest speed it reaches; rotary "
    "axes by their radius; at full speed",
    "mechanics",
    section="approach",
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
    section="approach",
)
PERCENT = FigureKind(
    "percent for teaching",
    "motion",
    "%",
    "the policy's highest speed at teaching as a share of the fastest that any leg can bring "
    "the fingers to, its axes at full speed together; at most 100",
    _ISO,
    section="approach",
)
STOP = FigureKind(
    "stopping distance",
    "motion",
    "mm",
    "approach speed x reaction time + (approach speed)² / (2 x braking along the way of the "
    "fingers), against the length of the approach; at full speed",
    "mechanics: way at even speed and under even braking",
    bound="most",
    section="approach",
)


def teaching_percent(facts: Facts) -> tuple[float, str]:
    """The percentage at which positions are taught, and where it comes from in words."""
    facts.need_cell()
    if facts.find("cell:cell.teaching_percent") is not None:
        percent = above_zero(facts, "cell.teaching_percent")
        return percent, "the percent that the cell keeps to at teaching"
    return min(stages(facts)), "the lowest stage; the cell names no percent for teaching"


def stopping(facts: Facts, leg: str) -> float:
    """Way in mm to stop from the approach at the end of a leg, at the worst pocket."""
    way, station = way_of(facts, leg), end_of(facts, leg)
    approach, reaction = both(
        lambda: approach_to(facts, station), lambda: facts.number("cell:times.reaction")
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
        legs = needed_in_order(facts)
    except Missing:
        return [
            judge(facts, kind, "", lacking(partial(needed_in_order, facts)))
            for kind in (LEG, TEACHING, STOP)
        ]
    found = [figure for leg in legs for figure in _of_leg(facts, leg)]
    return [*found, judge(facts, PERCENT, "", lambda: _percent(facts, legs))]


def _of_leg(facts: Facts, leg: str) -> list[Figure]:
    found = _times(facts, leg)
    found.append(_judge(facts, TIP, leg, lambda: tip_speed(facts, leg)))
    found.append(_teaching(facts, leg))
    if _has_approach(facts, leg):
        stop, least = partial(stopping, facts, leg), partial(_length, facts, leg)
        found.append(_judge(facts, STOP, leg, stop, least))
    return found


def _judge(
    facts: Facts,
    kind: FigureKind,
    leg: str,
    compute: Callable[[], float],
    limit: Callable[[], float] | None = None,
    note: str = "",
) -> Figure:
    look_at = f"approach.{end_of(facts, leg)}"
    return judge(facts, kind, leg, compute, limit, note=note, look_at=look_at)


def _times(facts: Facts, leg: str) -> list[Figure]:
    """The time of a leg; over the tray its mean, and the worst pocket by name."""

    def mean() -> float:
        times = seconds_by_pocket(facts, leg)
        return sum(times) / len(times)

    try:
        times = seconds_by_pocket(facts, leg)
    except Missing:
        times = ()
    if len(times) < 2:
        return [_judge(facts, LEG, leg, mean)]
    worst = times.index(max(times))
    start, end = way_of(facts, leg).pairs[worst]
    where = name_of(end) if start == end else f"{name_of(start)} to {name_of(end)}"
    return [
        _judge(facts, LEG, leg, mean, note=f"mean of {len(times)} pockets"),
        _judge(facts, WORST, leg, lambda: max(seconds_by_pocket(facts, leg)), note=where),
    ]


def _teaching(facts: Facts, leg: str) -> Figure:
    def speed() -> float:
        return tip_speed(facts, leg, teaching_percent(facts)[0])

    limit = partial(facts.number, "policy:teaching_speed_most")
    try:
        percent, words = teaching_percent(facts)
    except Missing:
        return _judge(facts, TEACHING, leg, speed, limit)
    return _judge(facts, TEACHING, leg, speed, limit, f"at {percent:g} %: {words}")


def _has_approach(facts: Facts, leg: str) -> bool:
    try:
        return approach_to(facts, end_of(facts, leg)) is not None
    except Missing:
        return True


def _length(facts: Facts, leg: str) -> float:
    return facts.length(f"approach.{end_of(facts, leg)}.length")


def _percent(facts: Facts, legs: list[str]) -> float:
    limit = facts.number("policy:teaching_speed_most")
    return min(100.0, *gather(*(partial(full_percent, facts, leg, limit) for leg in legs)))
