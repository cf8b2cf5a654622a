"""A drawing as DXF: one closed line for each cut, sizes in the unit that the file names.

`$INSUNITS` is 1 for inches and 4 for millimetres, and a closed LWPOLYLINE has
flag 1 (DXF reference, HEADER and LWPOLYLINE; a new document of the library
says 6, metres). The format is that of AC1015, which old programs read; what it
cannot hold of a text is written by number.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from engine.exports.letters import for_dxf
from engine.exports.shapes import (
    LAYERS,
    NOTES,
    Circle,
    Drawing,
    DrawnShape,
    EngravedText,
    Outline,
    Stroke,
)

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_UNITS = {"in": 1, "mm": 4}
_COLOURS = {"POCKETS": 7, "HOLES": 7, "OUTSIDE": 7, "ENGRAVE": 5, "NOTES": 8}


def to_dxf(drawing: Drawing) -> bytes:
    """The bytes of the file."""
    from ezdxf.filemanagement import new

    document = new("R2000", units=_UNITS[drawing.units])
    document.header["$MEASUREMENT"] = int(drawing.units == "mm")
    document.header["$LUNITS"] = 2
    document.header["$EXTMIN"] = (0, 0, 0)
    document.header["$EXTMAX"] = (drawing.wide, drawing.deep, 0)
    for name in LAYERS:
        layer = document.layers.add(name, color=_COLOURS[name])
        layer.dxf.plot = int(name != NOTES)
    space = document.modelspace()
    for shape in drawing.shapes:
        _add(space, shape)
    for n, line in enumerate(drawing.remarks, 1):
        height = drawing.deep / 80
        _add(space, EngravedText(NOTES, drawing.wide / 2, -2 * n * height, height, line))
    held = io.StringIO()
    document.write(held)
    return document.encode(held.getvalue())


def _add(space: Modelspace, shape: DrawnShape) -> None:
    where = {"layer": shape.layer}
    match shape:
        case Circle():
            space.add_circle((shape.x, shape.y), shape.radius, dxfattribs=where)
        case Outline():
            space.add_lwpolyline(shape.points, format="xyb", close=True, dxfattribs=where)
        case Stroke():
            space.add_line(shape.start, shape.end, dxfattribs=where)
        case EngravedText():
            from ezdxf.enums import TextEntityAlignment

            text = space.add_text(for_dxf(shape.text), height=shape.height, dxfattribs=where)
            text.set_placement((shape.x, shape.y), align=TextEntityAlignment.MIDDLE_CENTER)
