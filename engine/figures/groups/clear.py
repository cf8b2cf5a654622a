"""Whether the fingers rise far enough on leaving a place before they go sideways.

All values mm, along the way out of the place (up, where the cell says nothing).
The rise is that of the moves before the first one with any sideways axis in it,
on this leg and, where it has none, on the next one of the round. A rise together
with a sideways move is none. What holds the piece decides how far: jaws by their
bite, a pocket by its depth, fingers that let go by theirs.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import (
    along_of,
    does,
    end_of,
    hands_over,
    is_rotary,
    out_of,
    owner_of,
    place_of,
    sign_of,
    start_of,
)
from engine.figures.geometry.sizes import fingers
from engine.figures.inputs import Facts, Missing, both, gather, known, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.legs import in_order, moves_of, needed_in_order, shift_of
from engine.figures.mechanics.transfer import piece_at
from engine.figures.verdicts import judge

CLEAR = FigureKind(
    "rise before sideways",
    "clear",
    "mm",
    "rise from the taught position until the first move with a sideways axis, against the bite "
    "that has to come free + the policy's margin: a part taken from the jaws the jaws' bite, a "
    "blank taken from a pocket the pocket's depth, a piece let go the fingers' bite",
    "common practice, no source",
    bound="least",
    tight_share=0.1,
    section="positions",
)


def held_by(facts: Facts, station: str) -> float:
    """Depth in mm that must come free on leaving a station."""
    if does(facts, station) == "give":
        return facts.length(f"{fingers(facts, piece_at(facts, station))}.bite")
    place = place_of(facts, station)
    if place == "jaws":
        return facts.length("jaws.bite")
    if place == "tray":
        return facts.length("tray.pocket_depth")
    return facts.number(f"cell:stations.{station}.depth")


def rise(facts: Facts, leg: str) -> float:
    """Way out of the place that a leg starts from, in mm, before anything goes sideways."""
    start = start_of(facts, leg)
    total, seen = 0.0, set()
    following: str | None = leg
    while following is not None and following not in seen:
        seen.add(following)
        for number in range(len(moves_of(facts, following))):
            step = _step(facts, start, following, number)
            if step is None:
                return total
            total += step
        following = _next(facts, following)
    return total


def _step(facts: Facts, start: str, leg: str, number: int) -> float | None:
    """What one move adds to the rise; None where something goes sideways in it."""
    out, sign = out_of(facts, start)
    at_jaws = place_of(facts, start) == "jaws"
    total = 0.0
    for name in dict.fromkeys(moves_of(facts, leg)[number]):
        owner = owner_of(facts, name)
        if owner == "machine" and not at_jaws:
            continue
        if _along(facts, name) == out:
            shift, way = both(
                partial(shift_of, facts, leg, number, name), partial(sign_of, facts, name)
            )
            total += shift.base * way * (sign if owner == "loader" else -sign)
        elif _moves(facts, leg, number, name):
            return None
    return total


def _along(facts: Facts, axis: str) -> str | None:
    """The direction of a linear axis, or `Missing`; None for one that turns."""
    if is_rotary(facts, axis):
        return None
    return known(along_of(facts, axis), f"cell:axes.{axis}.along")


def _moves(facts: Facts, leg: str, number: int, axis: str) -> bool:
    shift = shift_of(facts, leg, number, axis)
    return bool(shift.base) or shift.by_pocket


def _next(facts: Facts, leg: str) -> str | None:
    """The leg that goes on from the end of a leg; none where something changes hands there."""
    end = end_of(facts, leg)
    if hands_over(facts, end):
        return None
    return next((one for one in in_order(facts) if start_of(facts, one) == end), None)


def figures(facts: Facts) -> list[Figure]:
    """The rise on each leg that leaves a place where something changed hands."""
    try:
        legs = needed_in_order(facts)
    except Missing:
        return [judge(facts, CLEAR, "", lacking(partial(needed_in_order, facts)))]
    stations = facts.keys("cell:stations")
    starts = ((leg, start_of(facts, leg)) for leg in legs)
    return [
        _figure(facts, leg, start)
        for leg, start in starts
        if start in stations and hands_over(facts, start)
    ]


def _figure(facts: Facts, leg: str, start: str) -> Figure:
    height, least = partial(rise, facts, leg), partial(_least, facts, leg)
    return judge(facts, CLEAR, leg, height, least, look_at=f"positions.{start}")


def _least(facts: Facts, leg: str) -> float:
    return sum(
        gather(
            lambda: held_by(facts, start_of(facts, leg)),
            lambda: facts.number("policy:clear_margin"),
        )
    )
