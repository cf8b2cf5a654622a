"""Which pockets in use a station's axes cannot get to; travel is the axis' own, left is in mm.

Invariant: the engine says where a pocket is and how much travel is left there;
here it is only asked for each pocket. A pocket counts as out of reach where less
is left than the policy wants, or less than nothing where it makes no rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from engine.figures.geometry import grid
from engine.figures.geometry.axes import cell_of
from engine.figures.geometry.pockets import stations, value_in
from engine.figures.geometry.tray_reach import travel_left
from engine.figures.model import Facts, Missing, gather, known


@dataclass(frozen=True, slots=True)
class Reach:
    """One axis at one station: the least travel left in mm, where, and what is out of reach."""

    station: str
    axis: str
    least: float
    worst: grid.Pocket
    out: frozenset[grid.Pocket]


def margin(facts: Facts) -> float:
    """Travel in mm that has to be left; zero where the policy makes no rule."""
    try:
        return facts.of_policy("travel_margin")[0]
    except Missing:
        return 0.0


def reaches(facts: Facts) -> list[Reach]:
    """Every axis that moves over the tray, station by station; `Missing` names all it lacks."""
    movers = gather(*(partial(_mover, facts, way) for way in ("across", "along")))
    pairs = [(station, axis) for station in stations(facts) for axis in dict.fromkeys(movers)]
    return list(gather(*(partial(_reach, facts, *pair) for pair in pairs)))


def _mover(facts: Facts, way: str) -> str:
    return str(known(getattr(cell_of(facts).bed, f"{way}_axis"), f"cell:bed.{way}_axis"))


def _reach(facts: Facts, station: str, axis: str) -> Reach:
    used, keep = grid.used(facts), margin(facts)
    values = {pocket: value_in(facts, station, axis, pocket) for pocket in used}
    known_left = {value: travel_left(facts, axis, value) for value in set(values.values())}
    left = {pocket: known_left[value] for pocket, value in values.items()}
    worst = min(used, key=lambda pocket: left[pocket])
    # what a float adds is no shortfall
    out = frozenset(pocket for pocket in used if round(left[pocket] - keep, 9) < 0)
    return Reach(station, axis, left[worst], worst, out)
