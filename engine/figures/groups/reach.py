"""Whether every taught value lies within its axis' travel.

Linear axes in mm, with the policy's margin to both ends; rotary axes in degrees,
against the ends themselves, since a margin in mm is none for an angle. Values in
between (`via`) count as taught ones. The pockets of the tray are the tray's
figures; here it is r1c1.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from engine.figures.cell import axes_at, station_order, travel_left
from engine.figures.inputs import Facts, Missing, gather, known, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge

_SOURCE = "common practice, no source"
LINEAR = FigureKind(
    "room to the end of travel",
    "reach",
    "mm",
    "the smaller of taught value - lower end and upper end - taught value, against the policy's "
    "margin",
    _SOURCE,
    bound="least",
    section="positions",
)
ROTARY = FigureKind(
    "room to the end of turning",
    "reach",
    "deg",
    "the smaller of taught value - lower end and upper end - taught value; at least 0",
    _SOURCE,
    bound="least",
    section="positions",
)


def room(facts: Facts, axis: str, address: str) -> float:
    """Room in mm or degrees from a value to the nearer end of its axis; negative beyond it."""
    gather(lambda: facts.number(address), lambda: travel_left(facts, axis, 0.0))
    return travel_left(facts, axis, facts.number(address))


def _stations(facts: Facts) -> list[str]:
    return known(station_order(facts) or None, "cell:stations")


def figures(facts: Facts) -> list[Figure]:
    """One figure for each axis of each station, and for each value in between."""
    try:
        stations = _stations(facts)
    except Missing:
        return [judge(facts, LINEAR, "", lacking(partial(_stations, facts)))]
    return [*_taught(facts, stations), *_between(facts)]


def _taught(facts: Facts, stations: list[str]) -> Iterator[Figure]:
    for name in stations:
        for axis in dict.fromkeys(axes_at(facts, name)):
            address = f"positions.{name}.{axis}"
            yield _figure(facts, axis, f"{name}.{axis}", address, look_at=address)


def _between(facts: Facts) -> Iterator[Figure]:
    for name in facts.keys("cell:legs"):
        for axis in facts.keys(f"cell:legs.{name}.via"):
            at = f"{name}.via.{axis}"
            yield _figure(facts, axis, at, f"cell:legs.{at}", look_at="positions")


def _figure(facts: Facts, axis: str, at: str, address: str, look_at: str) -> Figure:
    left = partial(room, facts, axis, address)
    if facts.find(f"cell:axes.{axis}.kind") == "rotary":
        return judge(facts, ROTARY, at, left, lambda: 0.0, look_at=look_at)
    limit = partial(facts.number, "policy:travel_margin")
    return judge(facts, LINEAR, at, left, limit, look_at=look_at)
