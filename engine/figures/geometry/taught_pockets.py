"""Pockets that were taught to prove the grid, in mm, counted as the grid counts.

x grows with the columns and y with the rows, so
that a perfect grid has rotation and skew zero whatever the signs of the axes
and the corner of r1c1. r1c1 itself comes from the station that takes from the
tray, unless it is taught here too.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import does, scale_of
from engine.figures.geometry import grid
from engine.figures.geometry.affine import PlanePoint
from engine.figures.geometry.pockets import stations
from engine.figures.inputs import Facts, both, gather
from schemas.pocket import Pocket, by_row, name_of, pocket_of


def taught_points(facts: Facts) -> dict[Pocket, PlanePoint]:
    """Every taught pocket, `Missing` with all addresses that are not there."""
    x, y = both(partial(grid.mover, facts, "across"), partial(grid.mover, facts, "along"))
    sides = _sides(facts, x, y)
    taught = sorted(map(pocket_of, facts.keys("tray.taught")), key=by_row)
    places = gather(*(partial(_place, facts, f"tray.taught.{name_of(p)}", x, y) for p in taught))
    found = dict(zip(taught, places, strict=True))
    if (0, 0) not in found:
        first = f"positions.{_first(facts)}"
        if None not in (facts.find(f"{first}.{x}"), facts.find(f"{first}.{y}")):
            found = {(0, 0): _place(facts, first, x, y), **found}
    return {pocket: (p * sides[0], q * sides[1]) for pocket, (p, q) in found.items()}


def _first(facts: Facts) -> str:
    """The station that takes from the tray, else the first one taught there."""
    names = stations(facts)
    takes = [name for name in names if does(facts, name) == "take"]
    return [*takes, *names][0]


def _sides(facts: Facts, x: str, y: str) -> tuple[float, float]:
    """1 or -1 for each way: whether the axis' value grows with columns, and with rows."""
    across, along = both(
        partial(grid.direction_of, facts, x, "across"),
        partial(grid.direction_of, facts, y, "along"),
    )
    return float(across), float(along)


def _place(facts: Facts, address: str, x: str, y: str) -> PlanePoint:
    p, q = facts.numbers(f"{address}.{x}", f"{address}.{y}")
    return p * scale_of(facts, x), q * scale_of(facts, y)
