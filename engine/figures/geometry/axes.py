"""What the axes of a cell can do, and what the fingers feel of them.

Linear axes are mm, rotary ones degrees, whatever unit the cell gives them. A
speed or acceleration that is not above zero counts as missing: nothing moves
with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from math import hypot, radians

from engine.figures.cell import above_zero, along_of, is_rotary, owner_of, scale_of
from engine.figures.inputs import Facts, gather
from engine.figures.mechanics.profile import Limits


def limits_of(facts: Facts, name: str) -> Limits:
    """Full speed, acceleration and braking of an axis, in mm or deg and seconds.

    Braking is as the acceleration where the cell says no other.
    """
    return facts.once_per_cell(f"axes.limits.{name}", lambda: _limits(facts, name))


def _limits(facts: Facts, name: str) -> Limits:
    scale, braking = scale_of(facts, name), facts.find(f"cell:axes.{name}.braking")
    asked = ["speed", "acceleration", *(["braking"] if braking is not None else [])]
    asks = (partial(above_zero, facts, f"axes.{name}.{what}") for what in asked)
    found = [value * scale for value in gather(*asks)]
    return Limits(found[0], found[1], found[-1])


@dataclass(frozen=True, slots=True)
class TipShare:
    """What one axis does to the fingers: mm at the tip for each mm or degree of the axis."""

    direction: str  # x, y, z; "arm" for a rotary axis; the axis' own name where none is known
    factor: float


def tip_share(facts: Facts, name: str) -> TipShare | None:
    """How an axis moves the fingers; None for an axis of the machine, which does not."""
    if owner_of(facts, name) == "machine":
        return None
    if is_rotary(facts, name):
        return TipShare("arm", radians(1.0) * abs(facts.number(f"cell:axes.{name}.radius")))
    sign = facts.find(f"cell:axes.{name}.sign")
    return TipShare(along_of(facts, name) or name, float(sign or 1))


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
