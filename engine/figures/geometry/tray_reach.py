"""Whether the loader reaches every pocket in use, and clears the tray; mm.

Judged for each station over the tray with its own taught position, so for each
gripper. The rise over the tray counts from the taught position, where the piece
stands in its pocket: a carried piece clears neighbours of the greatest height.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import along_of, scale_of, sign_of, travel_left
from engine.figures.geometry import grid
from engine.figures.geometry.pockets import stations, value_in
from engine.figures.geometry.sizes import WHATS, size
from engine.figures.inputs import Facts, Missing, both, gather, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge, judge_by_policy
from schemas.pocket import Pocket, name_of

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
    section="tray",
)
CLEAR = FigureKind(
    "travel left at clear height",
    "tray",
    "mm",
    f"{_LEFT} of the lifting axis, raised from the taught value by the greatest height of blank "
    "and part + the cell's clear height",
    "common practice, no source",
    "least",
    section="tray",
)


def figures(facts: Facts) -> list[Figure]:
    """Travel left of every axis over the tray, for each station taught there."""
    try:
        names, movers = _over(facts)
    except Missing:
        return [judge(facts, POCKETS, "tray", lacking(partial(_over, facts)))]
    found: list[Figure] = []
    for name in names:
        found += [_over_pockets(facts, name, axis) for axis in dict.fromkeys(movers)]
        compute = partial(_raised, facts, name)
        found.append(judge_by_policy(facts, CLEAR, name, compute, "travel_margin"))
    return found


def _over(facts: Facts) -> tuple[list[str], list[str]]:
    """Stations over the tray, and the axes that go over it."""
    return stations(facts), [grid.mover(facts, way) for way in _WAYS]


def _over_pockets(facts: Facts, station: str, axis: str) -> Figure:
    at = f"{station}, {axis}"

    def least() -> float:
        return _worst(facts, station, axis)[0]

    try:
        note = f"at {name_of(_worst(facts, station, axis)[1])}"
    except Missing:
        return judge(facts, POCKETS, at, least)
    return judge_by_policy(facts, POCKETS, at, least, "travel_margin", note=note)


def _worst(facts: Facts, station: str, axis: str) -> tuple[float, Pocket]:
    """The least travel left of one axis, and at which pocket; ends of travel are at its ends."""
    key = f"tray_reach.{station}.{axis}"
    return facts.once(key, lambda: _least_left(facts, station, axis))


def _least_left(facts: Facts, station: str, axis: str) -> tuple[float, Pocket]:
    gather(
        lambda: float(len(grid.used(facts))),
        lambda: value_in(facts, station, axis, (0, 0)),
        lambda: travel_left(facts, axis, 0.0),
    )
    columns, rows = grid.step_of(facts, axis)

    def way(pocket: Pocket) -> float:
        return columns * pocket[0] + rows * pocket[1]

    used = grid.used(facts)
    ends = min(used, key=way), max(used, key=way)
    return min((travel_left(facts, axis, value_in(facts, station, axis, p)), p) for p in ends)


def _raised(facts: Facts, station: str) -> float:
    facts.need_cell()
    axis = facts.text("cell:bed.up_axis")
    (taught, clear, _, sign), heights = both(
        lambda: gather(
            lambda: facts.number(f"positions.{station}.{axis}"),
            lambda: facts.number("cell:bed.clear_height"),
            lambda: travel_left(facts, axis, 0.0),
            lambda: sign_of(facts, axis),
        ),
        lambda: gather(*(partial(size, facts, what, "height") for what in WHATS)),
    )
    if along_of(facts, axis) != "z":
        raise Missing(f"cell:axes.{axis}.along")
    tallest = max(largest for _, largest in heights)
    raised = taught + sign * (tallest + clear) / scale_of(facts, axis)
    return travel_left(facts, axis, raised)
