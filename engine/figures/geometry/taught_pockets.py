"""Pockets that were taught to prove the grid, in mm, counted as the grid counts.

Keys are (row, column) from 1. x grows with the columns and y with the rows, so
that a perfect grid has rotation and skew zero whatever the signs of the axes
and the corner of r1c1. r1c1 itself comes from the station that takes from the
tray, unless it is taught here too.
"""

from __future__ import annotations

from functools import partial

from engine.figures.geometry import grid
from engine.figures.geometry.affine import PlanePoint, Pocket
from engine.figures.geometry.axes import axis_of, cell_of, scale_of
from engine.figures.geometry.pockets import stations
from engine.figures.model import Facts, both, gather, known


def taught_points(facts: Facts) -> dict[Pocket, PlanePoint]:
    """Every taught pocket, `Missing` with all addresses that are not there."""
    x, y = both(partial(_mover, facts, "across"), partial(_mover, facts, "along"))
    sides = _sides(facts, x, y)
    names = sorted(facts.record.tray.taught, key=_key)
    places = gather(*(partial(_place, facts, f"tray.taught.{n}", x, y) for n in names))
    found = {_key(name): place for name, place in zip(names, places, strict=True)}
    if (1, 1) not in found:
        first = _first(facts)
        if {x, y} <= set(facts.record.positions.get(first, {})):
            found = {(1, 1): _place(facts, f"positions.{first}", x, y), **found}
    return {pocket: (p * sides[0], q * sides[1]) for pocket, (p, q) in found.items()}


def _first(facts: Facts) -> str:
    """The station that takes from the tray, else the first one taught there."""
    names = stations(facts)
    takes = [name for name in names if cell_of(facts).stations[name].does == "take"]
    return [*takes, *names][0]


def _mover(facts: Facts, way: str) -> str:
    bed = cell_of(facts).bed
    name = bed.across_axis if way == "across" else bed.along_axis
    return known(name, f"cell:bed.{way}_axis")


def _sides(facts: Facts, x: str, y: str) -> tuple[float, float]:
    """1 or -1 for each way: whether the axis' value grows with columns, and with rows."""
    across, along = both(
        partial(grid.direction_of, facts, x, "across"),
        partial(grid.direction_of, facts, y, "along"),
    )
    return float(across), float(along)


def _place(facts: Facts, address: str, x: str, y: str) -> PlanePoint:
    p, q = facts.number(f"{address}.{x}", f"{address}.{y}")
    return p * scale_of(axis_of(facts, x)), q * scale_of(axis_of(facts, y))


def _key(name: str) -> Pocket:
    row, column = name[1:].split("c")
    return int(row), int(column)
