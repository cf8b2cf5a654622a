"""A drawing as SVG at true size: one unit of the picture is one of the plate.

`width` and `height` carry mm or in (SVG 1.1, 7.2 and 4.2, lengths and units);
y is turned round, since SVG counts it downwards. There are no transforms, so
that what stands in the file is what is cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import atan, hypot, pi, sin
from xml.sax.saxutils import escape

from engine.exports.letters import one_line
from engine.exports.shapes import (
    CUT,
    LAYERS,
    NOTES,
    Circle,
    Drawing,
    DrawnShape,
    EngravedText,
    Outline,
    Stroke,
    Vertex,
)

_CAPITALS = 0.7  # of the font's size: usual for faces without serifs, no source
_MARGIN = 0.01  # of the plate's longer side, so that no line is cut off


def to_svg(drawing: Drawing) -> bytes:
    """The bytes of the file."""
    edge = round(_MARGIN * max(drawing.wide, drawing.deep), 3)
    wide, deep, unit = drawing.wide + 2 * edge, drawing.deep + 2 * edge, drawing.units
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide)}{unit}" '
        f'height="{_n(deep)}{unit}" viewBox="{_n(-edge)} {_n(-edge)} {_n(wide)} {_n(deep)}">',
        f"<title>{escape(one_line(drawing.title))}</title>",
        f"<desc>{escape(one_line('. '.join(drawing.remarks)))}</desc>",
    ]
    for layer in LAYERS:
        lines += _group(drawing, layer)
    return "\n".join([*lines, "</svg>", ""]).encode()


def _group(drawing: Drawing, layer: str) -> Iterator[str]:
    line = max(drawing.wide, drawing.deep) / 2000
    colour = "black" if layer in CUT else "gray" if layer == NOTES else "blue"
    dashes = f' stroke-dasharray="{_n(line * 8)}"' if layer == NOTES else ""
    yield (
        f'<g id="{layer}" fill="none" stroke="{colour}" stroke-width="{_n(line)}"{dashes} '
        'font-family="sans-serif" text-anchor="middle">'
    )
    for shape in drawing.shapes:
        if shape.layer == layer:
            yield _element(shape, drawing.deep, colour)
    yield "</g>"


def _element(shape: DrawnShape, deep: float, colour: str) -> str:
    match shape:
        case Circle():
            return f'<circle cx="{_n(shape.x)}" cy="{_n(deep - shape.y)}" r="{_n(shape.radius)}"/>'
        case Outline():
            return f'<path d="{_path(shape.points, deep)}"/>'
        case Stroke():
            (x0, y0), (x1, y1) = shape.start, shape.end
            return f'<path d="M{_n(x0)} {_n(deep - y0)} L{_n(x1)} {_n(deep - y1)}"/>'
        case EngravedText():
            base = deep - shape.y + shape.height / 2
            size = shape.height / _CAPITALS
            return (
                f'<text x="{_n(shape.x)}" y="{_n(base)}" font-size="{_n(size)}" '
                f'fill="{colour}" stroke="none">{escape(one_line(shape.text))}</text>'
            )


def _path(points: tuple[Vertex, ...], deep: float) -> str:
    words = [f"M{_n(points[0][0])} {_n(deep - points[0][1])}"]
    for (x0, y0, bulge), (x1, y1, _) in zip(points, [*points[1:], points[0]], strict=True):
        if bulge:
            turn = 4 * atan(bulge)
            radius = _n(hypot(x1 - x0, y1 - y0) / 2 / abs(sin(turn / 2)))
            large, sweep = int(abs(turn) > pi), int(bulge < 0)  # y is turned round
            words.append(f"A{radius} {radius} 0 {large} {sweep} {_n(x1)} {_n(deep - y1)}")
        elif (x1, y1) != points[0][:2]:
            words.append(f"L{_n(x1)} {_n(deep - y1)}")
    return " ".join([*words, "Z"])


def _n(value: float) -> str:
    """A length with what six decimals hold, without an exponent."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
