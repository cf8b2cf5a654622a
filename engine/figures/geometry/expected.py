"""By how much two visits to one place should differ, from the piece and the grippers.

All values mm, directions as the tray lies, z up, second visit less first. Tips
and offsets are seen at wrist zero; the wrist turns them about the line that its
axis goes `along` (upright where the cell says nothing), counter-clockwise as
seen from the end of that line where the axis' sign is 1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import cos, radians, sin

from engine.figures.cell import along_of, gripper_at, out_of, turned_by
from engine.figures.geometry.sizes import WHATS, fingers
from engine.figures.geometry.tool_position import angle, loader_axes
from engine.figures.geometry.visits import Visit, jaws_visit
from engine.figures.inputs import Facts, Missing, both, gather

_CENTRING = ("chuck", "collet")
_EVEN = {"round", "tube", "bar", "hexagon"}
_ROUND_OFF = 1e-9
_PLANES = {"x": "yz", "y": "zx", "z": "xy"}  # what a turn about a line turns, in its order


def difference(facts: Facts, visit: Visit, direction: str) -> float:
    """Second less first along x, y or z in mm; `Missing` names everything it needs."""
    out, sign = out_of(facts, visit.first)
    asks: list[Callable[[], float]] = [partial(_from_grippers, facts, visit, direction)]
    if direction == out:
        asks.append(lambda: sign * _outwards(facts, visit))
    elif direction != "z":
        asks.append(partial(_shift, facts, visit, direction))
        asks += [partial(_gap, facts, direction)] if visit.place == "jaws" else []
    return sum(gather(*asks))


def unmoved(facts: Facts, visit: Visit, axis: str) -> float:
    """0 where an arm's axis has nothing to make up for, else `Missing` its direction."""
    level = [way for way in ("x", "y") if not loader_axes(facts, visit, way)]
    wanted = gather(*(partial(difference, facts, visit, way) for way in level))
    if any(abs(amount) > _ROUND_OFF for amount in wanted):
        raise Missing(f"cell:axes.{axis}.along")
    return 0.0


def _outwards(facts: Facts, visit: Visit) -> float:
    """Along the way out of the place: heights, bites, and where the fingers let go."""
    heights, bites, stand_offs = gather(
        lambda: facts.lengths("blank.height", "part.height"),
        lambda: facts.lengths(*(f"{fingers(facts, what)}.bite" for what in WHATS)),
        lambda: _stand_offs(facts, visit),
    )
    return _gained(heights) - _gained(bites) + _gained(stand_offs)


def _gained(pair: tuple[float, ...]) -> float:
    return pair[1] - pair[0]


def _stand_offs(facts: Facts, visit: Visit) -> tuple[float, ...]:
    """Heights above rest at which the fingers move; a part in the jaws is at rest."""
    first = f"approach.{visit.first}.stand_off"
    if visit.place == "jaws":
        return facts.length(first), 0.0
    return facts.lengths(first, f"approach.{visit.second}.stand_off")


@dataclass(frozen=True, slots=True)
class _Hand:
    """The gripper of a visit: its name, its fingers, what turns it and about which line."""

    station: str
    gripper: str
    fingers: str
    turned_by: str | None
    line: str


def _hand(facts: Facts, station: str, set_of: str) -> _Hand:
    name = gripper_at(facts, station)
    axis = turned_by(facts, name)
    line = along_of(facts, axis) if axis else None
    return _Hand(station, name, set_of, axis, line or "z")


def _from_grippers(facts: Facts, visit: Visit, direction: str) -> float:
    """What the wrist makes up for: tip of the first visit less that of the second."""
    first, second = gather(
        lambda: _hand(facts, visit.first, fingers(facts, "blank")),
        lambda: _hand(facts, visit.second, fingers(facts, "part")),
    )
    same = first.gripper == second.gripper and (
        _upright(first, direction) or _turn_of(facts, first, second) == 0.0
    )
    if same and first.fingers == second.fingers:
        return 0.0
    tips = gather(*(partial(_tip, facts, hand, direction, same) for hand in (first, second)))
    return tips[0] - tips[1]


def _upright(hand: _Hand, direction: str) -> bool:
    """Whether turning leaves this direction alone."""
    return hand.turned_by is None or hand.line == direction


def _turn_of(facts: Facts, first: _Hand, second: _Hand) -> float:
    if first.turned_by is None or second.turned_by is None:
        return 0.0
    return angle(facts, second.station, second.turned_by) - angle(
        facts, first.station, first.turned_by
    )


def _tip(facts: Facts, hand: _Hand, direction: str, same: bool) -> float:
    """Where the tip is from the wrist's centre, turned as the wrist is at the station.

    `same`: the gripper is the same and turned alike, so that its offset does not matter.
    """
    if _upright(hand, direction) or hand.turned_by is None:
        return _at_zero(facts, hand, direction, same)
    plane = _PLANES[hand.line]
    one, other = gather(*(partial(_at_zero, facts, hand, way, same) for way in plane))
    if (one, other) == (0.0, 0.0):
        return 0.0
    degrees = angle(facts, hand.station, hand.turned_by)
    return turn((one, other), degrees)[plane.index(direction)]


def _at_zero(facts: Facts, hand: _Hand, direction: str, same: bool) -> float:
    """The same at wrist zero: the gripper's offset, and along its facing the fingers' tip."""
    own = f"cell:grippers.{hand.gripper}"
    faces = facts.find(f"{own}.faces") or "-z"
    offset = partial(facts.numbers, *([] if same else [f"{own}.offset_{direction}"]))
    if faces[-1] != direction:
        return sum(offset())
    sign = 1 if faces.startswith("-") else -1  # a tip at -62 lies 62 the way it faces
    offsets, tip = both(offset, lambda: facts.length(f"{hand.fingers}.tip"))
    return sum(offsets) + sign * tip


def turn(point: tuple[float, float], degrees: float) -> tuple[float, float]:
    """A point turned about the origin, counter-clockwise."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return c * point[0] - s * point[1], s * point[0] + c * point[1]


def _gap(facts: Facts, direction: str) -> float:
    """How far a vice pushes the blank on closing; chucks and collets close evenly."""
    if facts.text("jaws.kind") in _CENTRING:
        return 0.0
    gap, pushes = both(lambda: facts.length("jaws.gap"), lambda: facts.text("jaws.pushes"))
    if not pushes.endswith(direction):
        return 0.0
    return -gap if pushes.startswith("-") else gap


def _shift(facts: Facts, visit: Visit, direction: str) -> float:
    """Where the middle of the part is held, from that of the blank, turned as it lies.

    Round bodies in a chuck or collet have none, unless the record says so.
    """
    unsaid = [facts.find(f"part.shift_{way}") is None for way in "xy"]
    if all(unsaid) and _even(facts):
        return 0.0
    shift_x, shift_y = facts.lengths("part.shift_x", "part.shift_y")
    shift = (shift_x, shift_y)
    if visit.place == "tray" and shift != (0.0, 0.0):
        shift = turn(shift, _turn_since_jaws(facts, visit))
    return shift["xy".index(direction)]


def _even(facts: Facts) -> bool:
    """Whether blank and part are held about one middle whatever is cut off them."""
    kind, *shapes = gather(
        *(partial(facts.text, a) for a in ("jaws.kind", "blank.shape", "part.shape"))
    )
    return kind in _CENTRING and set(shapes) <= _EVEN


def _turn_since_jaws(facts: Facts, visit: Visit) -> float:
    """How far the wrist turns the part between the jaws and the tray, in degrees."""
    hand, jaws = _hand(facts, visit.second, fingers(facts, "part")), jaws_visit(facts)
    if hand.turned_by is None or jaws is None:
        return 0.0
    if hand.line != "z":
        raise Missing(f"cell:axes.{hand.turned_by}.along")
    return _turn_of(facts, _hand(facts, jaws.second, hand.fingers), hand)
