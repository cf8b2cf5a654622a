"""Where each pocket is: on the plate in mm, and in the loader's axes in their own units.

The plate counts from the edges at the corner of r1c1. The loader is taught at
r1c1; the other pockets follow from pitches, corner and signs of the axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from engine.figures.cell import over_tray, scale_of, station_order
from engine.figures.geometry import grid
from engine.figures.inputs import Facts, Missing, both, gather
from schemas.pocket import Pocket, name_of


@dataclass(frozen=True, slots=True)
class PocketPlace:
    """One pocket in use, in the order of fetching; `loader` by station and axis, axis units."""

    name: str
    across: float  # mm from the plate's edge at the corner of r1c1
    along: float
    loader: dict[str, dict[str, float]]


def stations(facts: Facts) -> list[str]:
    """Stations whose taught position is that of r1c1, or `Missing`."""
    found = [name for name in station_order(facts) if over_tray(facts, name)]
    if not found:
        raise Missing("cell:stations")
    return found


def places(facts: Facts) -> list[PocketPlace]:
    """Every pocket in use in the order of fetching; `Missing` names all that is not there."""
    gather(partial(grid.in_order, facts), partial(on_plate, facts, (0, 0)))
    names = stations(facts)
    gather(*(partial(in_axes, facts, name, (0, 0)) for name in names))
    return [
        PocketPlace(
            name_of(pocket),
            *on_plate(facts, pocket),
            {name: in_axes(facts, name, pocket) for name in names},
        )
        for pocket in grid.in_order(facts)
    ]


def on_plate(facts: Facts, pocket: Pocket) -> tuple[float, float]:
    """Across and along in mm from the plate's edges at the corner of r1c1."""
    column, row = pocket
    across, along = gather(
        lambda: _from_edge(facts, "across", column), lambda: _from_edge(facts, "along", row)
    )
    return across, along


def _from_edge(facts: Facts, way: str, index: int) -> float:
    first, pitch = gather(lambda: facts.length(f"tray.first_{way}"), lambda: pitch_of(facts, way))
    return first + index * pitch


def pitch_of(facts: Facts, way: str) -> float:
    """Pitch in mm; nothing where there is one pocket that way."""
    across, along = grid.size(facts)
    if (across if way == "across" else along) == 1:
        return 0.0
    return facts.length(f"tray.pitch_{way}")


def in_axes(facts: Facts, station: str, pocket: Pocket) -> dict[str, float]:
    """Values of the axes that move over the grid, in their own units."""
    counts = zip(("across", "along"), grid.size(facts), strict=True)
    movers = [facts.find(f"cell:bed.{way}_axis") for way, count in counts if count > 1]
    return {axis: value_in(facts, station, axis, pocket) for axis in movers if axis}


def value_in(facts: Facts, station: str, axis: str, pocket: Pocket) -> float:
    """Value of one axis at a pocket, in its own unit."""
    taught, (columns, rows) = both(
        lambda: facts.number(f"positions.{station}.{axis}"), lambda: grid.step_of(facts, axis)
    )
    return taught + (columns * pocket[0] + rows * pocket[1]) / scale_of(facts, axis)
