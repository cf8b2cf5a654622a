"""The tray from above, as it lies: x from left to right, y from near to far, all in mm.

Pockets are where pitches, corner and edges say. Without them a schematic plan
can still show the order; it says that it is not to scale and what is missing.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.figures.geometry import grid
from engine.figures.geometry.pockets import on_plate
from engine.figures.geometry.tray_plate import pocket
from engine.figures.inputs import Facts, Missing, both
from schemas.pocket import name_of


@dataclass(frozen=True, slots=True)
class Spot:
    """One pocket: middle, size both ways. `turn` counts from 1; 0 where it is not loaded."""

    name: str
    x: float
    y: float
    wide: float
    deep: float
    turn: int


@dataclass(frozen=True, slots=True)
class TrayPlan:
    """The plate and its pockets, row by row. `missing` where it is not to scale."""

    wide: float
    deep: float
    round: bool
    spots: tuple[Spot, ...]
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Lie:
    """How the plate's own two ways lie on the bed."""

    swapped: bool  # across runs from near to far
    corner: str

    def place(self, along_row: float, over_rows: float, size: tuple[float, float]) -> list[float]:
        x, y = self.turned((along_row, over_rows))
        wide, deep = self.turned(size)
        return [x if "left" in self.corner else wide - x, y if "near" in self.corner else deep - y]

    def turned(self, pair: tuple[float, float]) -> tuple[float, float]:
        return (pair[1], pair[0]) if self.swapped else pair


def plan(facts: Facts) -> TrayPlan:
    """The tray to scale. `Missing` names every address that is not there."""
    (sizes, lie), (well, _) = both(
        lambda: both(
            lambda: facts.lengths("tray.plate_across", "tray.plate_along"), lambda: _lie(facts)
        ),
        lambda: both(lambda: pocket(facts), lambda: on_plate(facts, (0, 0))),
    )
    counts = grid.size(facts)
    wide, deep = lie.turned((sizes[0], sizes[1]))
    well = lie.turned(well)
    turns = _turns(facts)
    spots = []
    for row in range(counts[1]):
        for column in range(counts[0]):
            x, y = lie.place(*on_plate(facts, (column, row)), (sizes[0], sizes[1]))
            name = name_of((column, row))
            spots.append(Spot(name, x, y, *well, turns.get(name, 0)))
    return TrayPlan(wide, deep, facts.text("tray.pocket_shape") == "round", tuple(spots))


def schematic(facts: Facts, missing: tuple[str, ...]) -> TrayPlan:
    """The grid in even squares: order and corner, no sizes. `Missing` where even that is open."""
    counts, lie = both(lambda: grid.size(facts), lambda: _lie(facts))
    turns = _turns(facts)
    size = (counts[0] * 10.0, counts[1] * 10.0)
    spots = []
    for row in range(counts[1]):
        for column in range(counts[0]):
            name = name_of((column, row))
            x, y = lie.place(column * 10.0 + 5, row * 10.0 + 5, size)
            spots.append(Spot(name, x, y, 7.0, 7.0, turns.get(name, 0)))
    return TrayPlan(*lie.turned(size), True, tuple(spots), missing)


def _turns(facts: Facts) -> dict[str, int]:
    """Each loaded pocket's place in the order; all 1 where the cell names no path."""
    facts.need_cell()
    if facts.find("cell:bed.path") is None:
        return {name_of(pocket): 1 for pocket in grid.used(facts)}
    return {name_of(pocket): n for n, pocket in enumerate(grid.in_order(facts), 1)}


def _lie(facts: Facts) -> _Lie:
    corner, swapped = both(
        lambda: _corner(facts),
        lambda: _swapped(facts),
    )
    return _Lie(swapped, corner)


def _corner(facts: Facts) -> str:
    facts.need_cell()
    return facts.text("cell:bed.corner")


def _swapped(facts: Facts) -> bool:
    """Whether a row runs from near to far; told by either of the axes that make the grid."""
    facts.need_cell()
    for way, straight in (("across", "x"), ("along", "y")):
        own = f"cell:axes.{facts.find(f'cell:bed.{way}_axis')}"
        along = facts.find(f"{own}.along")
        if facts.find(f"{own}.kind") == "linear" and along in ("x", "y"):
            return bool(along != straight)
    raise Missing(f"cell:axes.{facts.text('cell:bed.across_axis')}.along")
