"""Where taught positions put the fingers: mm along x, y, z, loader less machine axes.

Only differences between two stations mean anything. Axes that turn a gripper are
left to the offsets; other rotary axes, and linear ones without a direction, are
the arm's own: they go no straight way.
"""

from __future__ import annotations

from functools import partial
from math import radians

from engine.figures.geometry.axes import axis_of, cell_of, sign_of
from engine.figures.geometry.visits import Visit
from engine.figures.mechanics.legs import station_of, value_at
from engine.figures.model import Facts, gather, known


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
    axis = axis_of(facts, name)
    return axis.of == whose and axis.kind == "linear" and axis.along == direction


def _named(facts: Facts, visit: Visit) -> list[str]:
    """Axes that either visit's taught position names."""
    key = f"standing.{visit.first}.{visit.second}"
    return facts.once(key, lambda: _either(facts, visit))


def _either(facts: Facts, visit: Visit) -> list[str]:
    named = {*station_of(facts, visit.first).axes, *station_of(facts, visit.second).axes}
    return [name for name in cell_of(facts).axis_order() if name in named]


def arm_axes(facts: Facts, visit: Visit) -> list[str]:
    """Loader axes that go no straight way and turn no gripper."""
    turning = {gripper.turned_by for gripper in cell_of(facts).grippers.values()}
    return [
        name
        for name in _named(facts, visit)
        if (axis := axis_of(facts, name)).of == "loader"
        and name not in turning
        and (axis.kind == "rotary" or axis.along is None)
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
    if axis_of(facts, axis).kind == "linear":
        first, second = gather(*ends)
        return second - first
    first, second, radius = gather(*ends, lambda: facts.of_cell(f"axes.{axis}.radius")[0])
    return radians(second - first) * radius


def angle(facts: Facts, station: str, turned_by: str) -> float:
    """How far a gripper is turned at a station, in degrees, as its axis' sign counts."""
    value, sign = gather(
        lambda: stands(facts, station, turned_by), lambda: sign_of(facts, turned_by)
    )
    return value * sign
