"""Axes of a cell: what they are, what they can do, what the fingers feel of them.

Linear axes are mm, rotary ones degrees, whatever unit the cell gives them. A
speed or acceleration that is not above zero counts as missing: nothing moves
with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from math import hypot, radians

from engine.figures.mechanics.profile import Limits
from engine.figures.model import MM_PER_INCH, Facts, Missing, gather, known
from schemas.cell import Axis, Cell


def cell_of(facts: Facts) -> Cell:
    """The cell, or `Missing` where the record names one that is not there."""
    return known(facts.cell, "record.cell")


def axis_of(facts: Facts, name: str) -> Axis:
    """One axis of the cell, or `Missing`."""
    return known(cell_of(facts).axes.get(name), f"cell:axes.{name}")


def scale_of(axis: Axis) -> float:
    """From the axis' unit to mm or degrees: 25.4 for an axis in inches, else 1."""
    return MM_PER_INCH if axis.unit == "in" else 1.0


def sign_of(facts: Facts, name: str) -> int:
    """1 where the axis' value grows along its direction, -1 where it falls, or `Missing`."""
    return known(axis_of(facts, name).sign, f"cell:axes.{name}.sign")


def above_zero(facts: Facts, address: str) -> float:
    """A number of the cell that must be above zero; `Missing` where it is not."""
    (value,) = facts.of_cell(address)
    if value <= 0:
        raise Missing(f"cell:{address}")
    return value


def limits_of(facts: Facts, name: str) -> Limits:
    """Full speed, acceleration and braking of an axis, in mm or deg and seconds.

    Braking is as the acceleration where the cell says no other.
    """
    return facts.once_per_cell(f"axes.limits.{name}", lambda: _limits(facts, name))


def _limits(facts: Facts, name: str) -> Limits:
    axis = axis_of(facts, name)
    asked = ["speed", "acceleration", *(["braking"] if axis.braking is not None else [])]
    asks = (partial(above_zero, facts, f"axes.{name}.{what}") for what in asked)
    found = [value * scale_of(axis) for value in gather(*asks)]
    return Limits(found[0], found[1], found[-1])


@dataclass(frozen=True, slots=True)
class TipShare:
    """What one axis does to the fingers: mm at the tip for each mm or degree of the axis."""

    direction: str  # x, y, z; "arm" for a rotary axis; the axis' own name where none is known
    factor: float


def tip_share(facts: Facts, name: str) -> TipShare | None:
    """How an axis moves the fingers; None for an axis of the machine, which does not."""
    axis = axis_of(facts, name)
    if axis.of == "machine":
        return None
    if axis.kind == "rotary":
        (radius,) = facts.of_cell(f"axes.{name}.radius")
        return TipShare("arm", radians(1.0) * abs(radius))
    return TipShare(axis.along or name, float(axis.sign or 1))


def resultant(shares: Iterable[tuple[TipShare, float]]) -> float:
    """Length of what axes do together to the tip, as a way or as a speed, in mm or mm/s.

    Each item is a share and the way or speed of its axis. Directions that are
    known add up square; a turning axis is taken to move level and, at the worst
    moment, just as the level axes do, so the result is never too small for
    upright rotary axes. A linear axis without `along` (it turns with an arm) is
    square to the others.
    """
    sums: dict[str, float] = {}
    turning = 0.0
    for share, amount in shares:
        moved = share.factor * amount
        if share.direction == "arm":
            turning += abs(moved)
        else:
            sums[share.direction] = sums.get(share.direction, 0.0) + moved
    level = hypot(sums.pop("x", 0.0), sums.pop("y", 0.0)) + turning
    return hypot(level, *sums.values())
