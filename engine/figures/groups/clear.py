"""Whether the fingers rise far enough on leaving a place before they go sideways.

All values mm, along the way out of the place (up, where the cell says nothing).
The rise is that of the moves before the first one with any sideways axis in it,
on this leg and, where it has none, on the next one of the round. A rise together
with a sideways move is none. What holds the piece decides how far: jaws by their
bite, a pocket by its depth, fingers that let go by theirs.
"""

from __future__ import annotations

from functools import partial

from engine.figures.geometry.axes import axis_of, cell_of, sign_of
from engine.figures.geometry.sizes import fingers
from engine.figures.geometry.visits import out_of
from engine.figures.mechanics.legs import in_order, leg_of, moves_of, shift_of, station_of
from engine.figures.mechanics.transfer import piece_at
from engine.figures.model import Facts, Figure, FigureKind, Missing, both, judge, known, lacking

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
)


def held_by(facts: Facts, station: str) -> float:
    """Depth in mm that must come free on leaving a station."""
    one = station_of(facts, station)
    if one.does == "give":
        return facts.length(f"{fingers(facts, piece_at(facts, station))}.bite")[0]
    if one.place == "jaws":
        return facts.length("jaws.bite")[0]
    if one.place == "tray":
        return facts.length("tray.pocket_depth")[0]
    return facts.of_cell(f"stations.{station}.depth")[0]


def rise(facts: Facts, leg: str) -> float:
    """Way out of the place that a leg starts from, in mm, before anything goes sideways."""
    start = leg_of(facts, leg).start
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
    at_jaws = station_of(facts, start).place == "jaws"
    total = 0.0
    for name in dict.fromkeys(moves_of(facts, leg)[number]):
        axis = axis_of(facts, name)
        if axis.of == "machine" and not at_jaws:
            continue
        if axis.kind == "linear" and known(axis.along, f"cell:axes.{name}.along") == out:
            ours = sign if axis.of == "loader" else -sign
            shift, way = both(
                partial(shift_of, facts, leg, number, name), partial(sign_of, facts, name)
            )
            total += shift.base * way * ours
        elif _moves(facts, leg, number, name):
            return None
    return total


def _moves(facts: Facts, leg: str, number: int, axis: str) -> bool:
    shift = shift_of(facts, leg, number, axis)
    return bool(shift.base) or shift.by_pocket


def _next(facts: Facts, leg: str) -> str | None:
    """The leg that goes on from the end of a leg; none where something changes hands there."""
    end = leg_of(facts, leg).end
    if station_of(facts, end).does in ("take", "give"):
        return None
    return next((one for one in in_order(facts) if leg_of(facts, one).start == end), None)


def figures(facts: Facts) -> list[Figure]:
    """The rise on each leg that leaves a place where something changed hands."""
    try:
        legs = known(in_order(facts) or None, "cell:legs")
    except Missing as error:
        return [judge(CLEAR, "", lacking(error))]
    stations = cell_of(facts).stations
    leaving = (leg for leg in legs if leg_of(facts, leg).start in stations)
    return [
        judge(CLEAR, leg, partial(rise, facts, leg), partial(_least, facts, leg))
        for leg in leaving
        if station_of(facts, leg_of(facts, leg).start).does in ("take", "give")
    ]


def _least(facts: Facts, leg: str) -> float:
    start = leg_of(facts, leg).start
    (margin,), depth = both(lambda: facts.of_policy("clear_margin"), lambda: held_by(facts, start))
    return depth + margin
