"""The plain shapes of a drawing, and the layers they lie on. x to the right, y upwards.

Bulges are those of a DXF LWPOLYLINE: the tangent of a quarter of the arc's
angle, positive anticlockwise (DXF reference, LWPOLYLINE).
"""

from __future__ import annotations

from dataclasses import dataclass

Vertex = tuple[float, float, float]  # x, y, bulge of what follows

OUTSIDE, POCKETS, HOLES, ENGRAVE, NOTES = "OUTSIDE", "POCKETS", "HOLES", "ENGRAVE", "NOTES"
LAYERS = (POCKETS, HOLES, OUTSIDE, ENGRAVE, NOTES)  # in the order to cut; notes are never cut
CUT = (POCKETS, HOLES, OUTSIDE)


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle."""

    layer: str
    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed line of straight stretches and arcs."""

    layer: str
    points: tuple[Vertex, ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line from one point to another."""

    layer: str
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True)
class EngravedText:
    """One line of text, centred on a point; `height` is that of a capital."""

    layer: str
    x: float
    y: float
    height: float
    text: str


DrawnShape = Circle | Outline | Stroke | EngravedText


@dataclass(frozen=True, slots=True)
class PlateOptions:
    """What was asked for beside the nominal plate, in the record's unit."""

    kerf: float = 0.0
    relief: float = 0.0  # radius of the corner relief of rectangular pockets
    holes: tuple[float, float] | None = None  # diameter, and from both edges to the middle


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything to draw, in one unit. `title` says what it is, `remarks` what to know."""

    units: str
    wide: float
    deep: float
    shapes: tuple[DrawnShape, ...]
    title: str
    remarks: tuple[str, ...] = ()
