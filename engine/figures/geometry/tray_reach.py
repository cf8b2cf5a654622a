"""Whether the loader reaches every pocket in use, and clears the tray; mm.

Judged for each station over the tray with its own taught position, so for each
gripper. The rise over the tray counts from the taught position, where the piece
stands in its pocket: a carried piece clears neighbours of the greatest height.
"""

from __future__ import annotations

from functools import partial

from engine.figures.geometry import grid
from engine.figures.geometry.axes import axis_of, cell_of, scale_of, sign_of
from engine.figures.geometry.pockets import stations, value_in
from engine.figures.geometry.sizes import WHATS, What, size
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
from engine.figures.verdicts import floor

_WAYS = ("across", "along")
_LEFT = "distance to the nearer end of travel"
POCKETS = FigureKind(
    "travel left over the tray",
    "tray",
    "mm",
    f"{_LEFT} at the worst pocket in use: taught value at r1c1 and pitches, with the sign of the "
    "axis and the corner of r1c1",
    "arithmetic",
    "least",
)
CLEAR = FigureKind(
    "travel left at clear height",
    "tray",
    "mm",
    f"{_LEFT} of the lifting axis, raised from the taught value by the greatest height of blank "
    "and part + the cell's clear height",
    "common practice, no source",
    "least",
)


def figures(facts: Facts) -> list[Figure]:
    """Travel left of every axis over the tray, for each station taught there."""
    try:
        names = stations(facts)
        bed = cell_of(facts).bed
        movers = [known(getattr(bed, f"{way}_axis"), f"cell:bed.{way}_axis") for way in _WAYS]
    except Missing as error:
        return [judge(POCKETS, "tray", lacking(error))]
    found: list[Figure] = []
    for name in names:
        found += [_over_pockets(facts, name, axis) for axis in dict.fromkeys(movers)]
        compute = partial(_raised, facts, name)
        found.append(judge(CLEAR, name, compute, floor(facts, "travel_margin", compute)))
    return found


def travel_left(facts: Facts, axis: str, value: float) -> float:
    """Distance in mm from a value, in the axis' own unit, to the nearer end of its travel."""
    least, most = facts.of_cell(f"axes.{axis}.least", f"axes.{axis}.most")
    return min(value - least, most - value) * scale_of(axis_of(facts, axis))


def _over_pockets(facts: Facts, station: str, axis: str) -> Figure:
    at = f"{station}, {axis}"
    try:
        left, pocket = _worst(facts, station, axis)
    except Missing as error:
        return judge(POCKETS, at, lacking(error))
    note = f"at {grid.name_of(pocket)}"
    return judge(POCKETS, at, lambda: left, floor(facts, "travel_margin", lambda: left), note)


def _worst(facts: Facts, station: str, axis: str) -> tuple[float, grid.Pocket]:
    """The least travel left of one axis, and at which pocket; ends of travel are at its ends."""
    gather(
        lambda: float(len(grid.used(facts))),
        lambda: value_in(facts, station, axis, (0, 0)),
        lambda: travel_left(facts, axis, 0.0),
    )
    columns, rows = grid.step_of(facts, axis)

    def way(pocket: grid.Pocket) -> float:
        return columns * pocket[0] + rows * pocket[1]

    used = grid.used(facts)
    ends = min(used, key=way), max(used, key=way)
    return min((travel_left(facts, axis, value_in(facts, station, axis, p)), p) for p in ends)


def _raised(facts: Facts, station: str) -> float:
    axis = known(cell_of(facts).bed.up_axis, "cell:bed.up_axis")
    (taught, clear, _), (sign, tallest) = both(
        lambda: gather(
            lambda: facts.number(f"positions.{station}.{axis}")[0],
            lambda: facts.of_cell("bed.clear_height")[0],
            lambda: travel_left(facts, axis, 0.0),
        ),
        lambda: both(
            lambda: sign_of(facts, axis),
            lambda: max(gather(*(partial(_height, facts, what) for what in WHATS))),
        ),
    )
    if axis_of(facts, axis).along != "z":
        raise Missing(f"cell:axes.{axis}.along")
    raised = taught + sign * (tallest + clear) / scale_of(axis_of(facts, axis))
    return travel_left(facts, axis, raised)


def _height(facts: Facts, what: What) -> float:
    return size(facts, what, "height")[1]
