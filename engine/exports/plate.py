"""The tray plate as outlines to cut and words to engrave, in the record's unit.

x runs from left to right and y from near to far, the plate's near left corner
is 0, 0. Sizes are nominal unless a kerf is given: then each closed outline is
the path of the middle of a cut that is `kerf` wide, so pockets and holes are
drawn half a kerf smaller all round and the outside half a kerf larger.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import atan2, hypot, sqrt, tan

from engine.exports.plan import Spot, TrayPlan
from engine.exports.shapes import (
    ENGRAVE,
    HOLES,
    NOTES,
    OUTSIDE,
    POCKETS,
    Circle,
    Drawing,
    DrawnShape,
    EngravedText,
    Outline,
    PlateOptions,
    Stroke,
    Vertex,
)
from schemas.errors import Refused, UsageError
from schemas.factors import MM_PER_UNIT

_SMALLEST_WORDS = 1.5  # mm
_LARGEST_WORDS = 6.0


def draw(plan: TrayPlan, units: str, wish: PlateOptions, title: str) -> Drawing:
    """The plate. Refused where cuts would meet, UsageError where a wish cannot be had."""
    plan = _in_unit(plan, units)
    _refuse_meeting(plan, wish)
    half = wish.kerf / 2
    shapes: list[DrawnShape] = [_pocket(spot, plan.round, half, wish.relief) for spot in plan.spots]
    shapes += _holes(plan, wish)
    shapes.append(Outline(OUTSIDE, _rectangle(-half, -half, plan.wide + half, plan.deep + half)))
    scale = MM_PER_UNIT[units]
    labels, remarks = _labels(plan, scale)
    shapes += labels
    for spot in plan.spots:
        shapes += _not_loaded(spot) if not spot.turn else ()
    shapes.append(_title(plan, title, scale))
    cut = (
        f"kerf {wish.kerf:g} {units} taken off" if wish.kerf else "nominal sizes, no kerf taken off"
    )
    remarks = [f"{cut}; unit {units}", *remarks]
    return Drawing(units, plan.wide, plan.deep, tuple(shapes), title, tuple(remarks))


def _in_unit(plan: TrayPlan, units: str) -> TrayPlan:
    if units == "mm":
        return plan

    def inches(value: float) -> float:
        # 3.25 in must not come back as 3.2500000000000004
        return round(value / MM_PER_UNIT["in"], 9)

    spots = tuple(
        replace(s, x=inches(s.x), y=inches(s.y), wide=inches(s.wide), deep=inches(s.deep))
        for s in plan.spots
    )
    return TrayPlan(inches(plan.wide), inches(plan.deep), plan.round, spots)


# pockets


def _pocket(spot: Spot, is_round: bool, half: float, relief: float) -> DrawnShape:
    if is_round:
        return Circle(POCKETS, spot.x, spot.y, spot.wide / 2 - half)
    a, b = spot.wide / 2, spot.deep / 2
    if not relief:
        return Outline(
            POCKETS,
            _rectangle(spot.x - a + half, spot.y - b + half, spot.x + a - half, spot.y + b - half),
        )
    return Outline(POCKETS, _relieved(spot, a, b, half, relief))


def _rectangle(x0: float, y0: float, x1: float, y1: float) -> tuple[Vertex, ...]:
    return ((x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0))


def _relieved(spot: Spot, a: float, b: float, half: float, radius: float) -> tuple[Vertex, ...]:
    """A rectangle whose corners are bored out by a circle through the corner itself.

    The circle's middle lies on the corner's bisector, so it meets each side at
    radius·√2 from the corner, and a half turn of it is cut. Shrunk by half a
    kerf, its radius is that much smaller, and where it met the side the path
    goes round that edge of the material.
    """
    reach, centre = radius * sqrt(2), radius / sqrt(2)
    points: list[Vertex] = []
    for dx, dy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        corner = (spot.x + dx * a, spot.y + dy * b)
        middle = (corner[0] - dx * centre, corner[1] - dy * centre)
        on_x = (corner[0] - dx * reach, corner[1], corner[0] - dx * reach, corner[1] - dy * half)
        on_y = (corner[0], corner[1] - dy * reach, corner[0] - dx * half, corner[1] - dy * reach)
        # anticlockwise: the near left corner is reached down its left side
        first, last = (on_y, on_x) if dx * dy > 0 else (on_x, on_y)
        points += _relief(first, last, middle, half, radius)
    return tuple(points)


def _relief(
    first: tuple[float, float, float, float],
    last: tuple[float, float, float, float],
    middle: tuple[float, float],
    half: float,
    radius: float,
) -> list[Vertex]:
    """Path of one relief: in from one side, round the circle, out on the next side.

    `first` and `last` are the edge of the material and, after it, the path beside it.
    """
    share = (radius - half) / radius
    arcs = [
        (middle[0] + (e[0] - middle[0]) * share, middle[1] + (e[1] - middle[1]) * share)
        for e in (first, last)
    ]
    into = _bulge(first[:2], first[2:], arcs[0])
    out = _bulge(last[:2], arcs[1], last[2:])
    if not half:
        return [(*first[:2], 1.0), (*last[:2], 0.0)]
    return [(*first[2:], into), (*arcs[0], 1.0), (*arcs[1], out), (*last[2:], 0.0)]


def _bulge(middle: tuple[float, ...], start: tuple[float, ...], end: tuple[float, ...]) -> float:
    """Bulge of the shorter arc about a middle from one point to another."""
    ax, ay, bx, by = (
        start[0] - middle[0],
        start[1] - middle[1],
        end[0] - middle[0],
        end[1] - middle[1],
    )
    return tan(atan2(ax * by - ay * bx, ax * bx + ay * by) / 4)


# holes


def _holes(plan: TrayPlan, wish: PlateOptions) -> list[DrawnShape]:
    if wish.holes is None:
        return []
    radius, inset = wish.holes[0] / 2 - wish.kerf / 2, wish.holes[1]
    return [
        Circle(HOLES, x, y, radius)
        for y in (inset, plan.deep - inset)
        for x in (inset, plan.wide - inset)
    ]


# words


def _labels(plan: TrayPlan, scale: float) -> tuple[list[DrawnShape], list[str]]:
    """A name beside each pocket, on its far side; inside the pocket where there is no room."""
    room = _room_behind(plan)
    height = _fitting(0.5 * room * scale, plan.spots, scale)
    inside = height * scale < _SMALLEST_WORDS
    if inside:
        deepest = min(s.deep for s in plan.spots) * scale
        height = _fitting(deepest / 4, plan.spots, scale)
    found: list[DrawnShape] = []
    for spot in plan.spots:
        y = spot.y if inside else spot.y + spot.deep / 2 + room / 2
        found.append(EngravedText(ENGRAVE, spot.x, y, height, spot.name))
    told = ["labels lie inside the pockets: there is no room between them"] if inside else []
    return found, told


def _room_behind(plan: TrayPlan) -> float:
    """Least room on the far side of any pocket, to the next one or to the plate's edge."""
    room = min(plan.deep - s.y - s.deep / 2 for s in plan.spots)
    rows = sorted({round(s.y, 6) for s in plan.spots})
    steps = [b - a for a, b in pairwise(rows)]
    return min([room, *(step - plan.spots[0].deep for step in steps)])


def _fitting(height: float, spots: tuple[Spot, ...], scale: float) -> float:
    """A height in the drawing's unit, not larger than what a pocket's width leaves."""
    longest = max(len(s.name) for s in spots)
    return min(height, _LARGEST_WORDS, spots[0].wide * scale / (0.9 * longest)) / scale


def _not_loaded(spot: Spot) -> list[DrawnShape]:
    a, b = spot.wide / 2 * 0.7, spot.deep / 2 * 0.7
    words = "not loaded"
    height = min(spot.wide / (1.4 * len(words)), spot.deep / 8)
    return [
        Stroke(NOTES, (spot.x - a, spot.y - b), (spot.x + a, spot.y + b)),
        Stroke(NOTES, (spot.x - a, spot.y + b), (spot.x + a, spot.y - b)),
        EngravedText(NOTES, spot.x, spot.y - spot.deep / 4, height, words),
    ]


def _title(plan: TrayPlan, title: str, scale: float) -> EngravedText:
    """What the plate is and which revision it was cut from, along its near edge."""
    room = min(s.y - s.deep / 2 for s in plan.spots)
    height = min(0.5 * room, _LARGEST_WORDS / scale, plan.wide * 0.8 / (0.9 * max(len(title), 1)))
    return EngravedText(
        ENGRAVE, plan.wide / 2, room / 2, max(height, _SMALLEST_WORDS / scale / 2), title
    )


# what cannot be cut


def _refuse_meeting(plan: TrayPlan, wish: PlateOptions) -> None:
    """Refuse a plate whose cuts would run into each other or over the edge."""
    spot = plan.spots[0]
    small = min(spot.wide, spot.deep)
    if wish.kerf >= small:
        raise UsageError("the kerf is as wide as the pocket", hint="Give the width of the cut.")
    if wish.relief and plan.round:
        raise UsageError("round pockets have no corners to relieve", hint="Leave --relief out.")
    if wish.relief and not wish.kerf / 2 < wish.relief <= small / (2 * sqrt(2)):
        raise UsageError(
            "this relief does not go into the pocket's corners",
            hint="Its radius is more than half the kerf and at most 0.35 of the pocket's size.",
        )
    over = wish.relief * (1 - 1 / sqrt(2))
    inside = all(
        s.wide / 2 + over < s.x < plan.wide - s.wide / 2 - over
        and s.deep / 2 + over < s.y < plan.deep - s.deep / 2 - over
        for s in plan.spots
    )
    if not inside:
        raise Refused(
            "a pocket would run over the edge of the plate",
            hint="Look at tray.first_across, tray.first_along, the pitches and the plate's size.",
        )
    if any(_meet(spot, other, plan.round, over) for other in plan.spots[1:]):
        raise Refused(
            "pockets would run into each other",
            hint="Look at tray.pitch_across, tray.pitch_along and tray.pocket_size.",
        )
    _refuse_holes(plan, wish)


def _meet(one: Spot, other: Spot, is_round: bool, over: float) -> bool:
    dx, dy = abs(one.x - other.x), abs(one.y - other.y)
    if is_round:
        return hypot(dx, dy) <= one.wide
    return dx <= one.wide + 2 * over and dy <= one.deep + 2 * over


def _refuse_holes(plan: TrayPlan, wish: PlateOptions) -> None:
    if wish.holes is None:
        return
    diameter, inset = wish.holes
    if diameter <= wish.kerf or inset <= diameter / 2:
        raise UsageError(
            "these holes are smaller than the kerf, or run over the edge of the plate",
            hint="--holes 6.6@12 are four holes of 6.6, their middles 12 from both edges.",
        )
    for x in (inset, plan.wide - inset):
        for y in (inset, plan.deep - inset):
            for spot in plan.spots:
                if _gap(spot, plan.round, x, y) <= diameter / 2:
                    raise Refused(
                        f"a fixing hole would run into the pocket {spot.name}",
                        hint="Put the holes nearer to the edges, or make them smaller.",
                    )


def _gap(spot: Spot, is_round: bool, x: float, y: float) -> float:
    """From a point to the nearest wall of a pocket; negative or zero inside."""
    if is_round:
        return hypot(x - spot.x, y - spot.y) - spot.wide / 2
    dx, dy = abs(x - spot.x) - spot.wide / 2, abs(y - spot.y) - spot.deep / 2
    return hypot(max(dx, 0.0), max(dy, 0.0)) if max(dx, dy) > 0 else max(dx, dy)
