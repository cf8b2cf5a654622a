"""Whether every taught value lies within its axis' travel.

Linear axes in mm, with the policy's margin to both ends; rotary axes in degrees,
against the ends themselves, since a margin in mm is none for an angle. Values in
between (`via`) count as taught ones. The pockets of the tray are the tray's
figures; here it is r1c1.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.figures.geometry.axes import axis_of, cell_of, scale_of
from engine.figures.model import Facts, Figure, FigureKind, Missing, both, judge, known, lacking

_SOURCE = "common practice, no source"
LINEAR = FigureKind(
    "room to the end of travel",
    "reach",
    "mm",
    "the smaller of taught value - lower end and upper end - taught value, against the policy's "
    "margin",
    _SOURCE,
    bound="least",
)
ROTARY = FigureKind(
    "room to the end of turning",
    "reach",
    "deg",
    "the smaller of taught value - lower end and upper end - taught value; at least 0",
    _SOURCE,
    bound="least",
)


def room(facts: Facts, axis: str, address: str, *, in_cell: bool = False) -> float:
    """Room in mm or degrees from a value to the nearer end of its axis; negative beyond it."""
    ask = facts.of_cell if in_cell else facts.number
    (value,), (least, most) = both(
        lambda: ask(address), lambda: facts.of_cell(f"axes.{axis}.least", f"axes.{axis}.most")
    )
    return min(value - least, most - value) * scale_of(axis_of(facts, axis))


def figures(facts: Facts) -> list[Figure]:
    """One figure for each axis of each station, and for each value in between."""
    try:
        stations = known(cell_of(facts).station_order() or None, "cell:stations")
    except Missing as error:
        return [judge(LINEAR, "", lacking(error))]
    return [*_taught(facts, stations), *_between(facts)]


def _taught(facts: Facts, stations: list[str]) -> Iterator[Figure]:
    cell = cell_of(facts)
    for name in stations:
        for axis in dict.fromkeys(cell.stations[name].axes):
            yield _figure(facts, axis, f"{name}.{axis}", f"positions.{name}.{axis}")


def _between(facts: Facts) -> Iterator[Figure]:
    for name, leg in cell_of(facts).legs.items():
        for axis in leg.via:
            at = f"{name}.via.{axis}"
            yield _figure(facts, axis, at, f"legs.{at}", in_cell=True)


def _figure(facts: Facts, axis: str, at: str, address: str, *, in_cell: bool = False) -> Figure:
    def limit() -> float:
        return facts.of_policy("travel_margin")[0]

    known_axis = cell_of(facts).axes.get(axis)
    turning = known_axis is not None and known_axis.kind == "rotary"
    return judge(
        ROTARY if turning else LINEAR,
        at,
        lambda: room(facts, axis, address, in_cell=in_cell),
        (lambda: 0.0) if turning else limit,
    )
