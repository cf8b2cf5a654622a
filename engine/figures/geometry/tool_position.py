"""Where taught positions put the fingers: mm along x, y, z, loader less machine axes.

Only differences between two stations mean anything. Axes that turn a gripper are
left to the offsets; other rotary axes, and linear ones without a direction, are
the arm's own: they go no straight way.
"""

from __future__ import annotations

from functools import partial
from math import radians

from engine.figures.cell import (
    along_of,
    axes_at,
    axis_order,
    is_rotary,
    owner_of,
    sign_of,
    turned_by,
)
from engine.figures.geometry.visits import Visit
from engine.figures.inputs import Facts, gather, known
from engine.figures.mechanics.legs import value_at


def directions(facts: Facts, visit: Visit) -> list[str]:
    """Directions in which a loader axis stands at the two visits."""
    return [way for way in ("x", "y", "z") if loader_axes(facts, visit, way)]


def loader_axes(facts: Facts, visit: Visit, direction: str) -> list[str]:
    """Linear axes of the loader along a direction, in the order of the cell."""
    named = _named(facts, visit)
    return [a for a in named if _goes(facts, a, "loader", direction)]


def machine_axes(facts: Facts, visit: Visit, direction: str) -> list[str]:
    """Linear axes of the machine along a direction; they move the jaws and not the tray."""
    named = _named(facts, visit) if visit.place == "jaws" else []
    return [a for a in named if _goes(facts, a, "machine", direction)]


def _goes(facts: Facts, name: str, whose: str, direction: str) -> bool:
    linear = owner_of(facts, name) == whose and not is_rotary(facts, name)
    return linear and along_of(facts, name) == direction


def _named(facts: Facts, visit: Visit) -> list[str]:
    """Axes that either visit's taught position names."""
    key = f"tool position.{visit.first}.{visit.second}"
    return facts.once_per_cell(key, lambda: _either(facts, visit))


def _either(facts: Facts, visit: Visit) -> list[str]:
    named = {*axes_at(facts, visit.first), *axes_at(facts, visit.second)}
    return [name for name in axis_order(facts) if name in named]


def arm_axes(facts: Facts, visit: Visit) -> list[str]:
    """Loader axes that go no straight way and turn no gripper."""
    turning = {turned_by(facts, name) for name in facts.keys("cell:grippers")}
    return [
        name
        for name in _named(facts, visit)
        if owner_of(facts, name) == "loader"
        and name not in turning
        and (is_rotary(facts, name) or along_of(facts, name) is None)
    ]


def where(
    facts: Facts, station: str, visit: Visit, direction: str, without: str | None = None
) -> float:
    """Loader less machine along a direction at a station, in mm; one axis may be left out."""
    signed = [(name, 1) for name in loader_axes(facts, visit, direction) if name != without]
    signed += [(name, -1) for name in machine_axes(facts, visit, direction)]
    return sum(gather(*(partial(_signed, facts, station, *pair) for pair in signed)))


def _signed(facts: Facts, station: str, axis: str, way: int) -> float:
    value, sign = gather(lambda: stands(facts, station, axis), lambda: sign_of(facts, axis))
    return value * sign * way


def stands(facts: Facts, station: str, axis: str) -> float:
    """Where an axis stands at a station, in mm or deg, or `Missing`."""
    return known(value_at(facts, station, axis), f"positions.{station}.{axis}")


def arm_way(facts: Facts, visit: Visit, axis: str) -> float:
    """Way of the fingers in mm by which an arm's axis differs between two visits."""
    ends = [partial(stands, facts, one, axis) for one in (visit.first, visit.second)]
    if not is_rotary(facts, axis):
        first, second = gather(*ends)
        return second - first
    first, second, radius = gather(*ends, lambda: facts.number(f"cell:axes.{axis}.radius"))
    return radians(second - first) * radius


def angle(facts: Facts, station: str, axis: str) -> float:
    """How far a gripper is turned at a station by an axis, in degrees, as its sign counts."""
    value, sign = gather(lambda: stands(facts, station, axis), lambda: sign_of(facts, axis))
    return value * sign
