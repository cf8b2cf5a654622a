"""Third part of a sheet: approaches, work offsets and the program, and the tools beside them.

Tools stand beside the approaches where they are few; more of them get the whole
width and go on over the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.exports.page import EDGE, RIGHT, ROOM, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import heading, pencil
from engine.exports.values import PrintedValue, entry, keys, number, stations

_ROW, _PENCIL = 5.5, 5.4
_BESIDE = 9  # tools
_LEFT, _RIGHT = 74.0, ROOM - 78.0


@dataclass(frozen=True, slots=True)
class _Table:
    """Rows under small names, each column with its width."""

    names: Sequence[str]
    widths: Sequence[float]
    rows: Sequence[Sequence[PrintedValue]]


def draw(page: PaperPage, set_up: SetUp) -> None:
    """Draw it."""
    tools = _tools(set_up)
    beside = len(tools.rows) <= _BESIDE
    left = _approaches(set_up, _LEFT if beside else ROOM)
    page.need(9 + 4 + _ROW * min(max(len(left.rows), len(tools.rows)), 12))
    heading(page, "Approaches, tools" if beside and tools.rows else "Approaches")
    top = page.y
    _put(page, left, EDGE)
    _offsets(page, set_up, _LEFT if beside else ROOM)
    if not tools.rows:
        return
    if beside:
        low, page.y = page.y, top
        _put(page, tools, RIGHT - _RIGHT)
        page.y = max(low, page.y)
    else:
        heading(page, "Tools")
        _put(page, tools, EDGE)
    page.y += 1


def _approaches(set_up: SetUp, width: float) -> _Table:
    units = set_up.record.record.units
    names = ("station", f"length {units}", "speed mm/s", f"stand-off {units}")
    own = [s for s in stations(set_up) if s in keys(set_up, "approach", 1)]
    rows = [
        [
            PrintedValue("", s),
            *(number(set_up, f"approach.{s}.{c}") for c in ("length", "speed", "stand_off")),
        ]
        for s in dict.fromkeys([*own, *keys(set_up, "approach", 1)])
    ]
    return _Table(names, [width * share for share in (0.34, 0.21, 0.22, 0.23)], rows)


def _tools(set_up: SetUp) -> _Table:
    names = sorted(keys(set_up, "tools", 1))
    wide = _RIGHT if len(names) <= _BESIDE else ROOM
    rows = [
        [
            PrintedValue("", name),
            entry(set_up, "", f"tools.{name}.what"),
            *(number(set_up, f"tools.{name}.{c}") for c in ("diameter", "stick_out", "length")),
        ]
        for name in names
    ]
    shares = (0.11, 0.43, 0.14, 0.14, 0.18)
    columns = ("tool", "what it is", "diameter", "stick-out", "length")
    return _Table(columns, [wide * share for share in shares], rows)


def _offsets(page: PaperPage, set_up: SetUp, width: float) -> None:
    """Work offsets and the program, one line each, under the approaches."""
    lines = [_offset(set_up, name) for name in keys(set_up, "offsets", 1)]
    lines.append(entry(set_up, "program", "program.file", "program.ending", join=", ends "))
    for one in lines:
        row = [
            PrintedValue("", one.label),
            PrintedValue("", one.ink or "not known", one.pencil, one.whole),
        ]
        _put(page, _Table((), (width * 0.26, width * 0.74), [row]), EDGE)
    page.y += 1


def _offset(set_up: SetUp, name: str) -> PrintedValue:
    """One work offset: x 0.000, z -263.480 in one line."""
    axes = keys(set_up, f"offsets.{name}", 2)
    found = {axis: number(set_up, f"offsets.{name}.{axis}") for axis in axes}
    ink = ", ".join(f"{axis} {e.ink}" for axis, e in found.items() if e.ink)
    pencilled = ", ".join(f"{axis} {e.pencil}" for axis, e in found.items() if e.pencil)
    return PrintedValue(f"offset {name}", ink, pencilled, True)


def _put(page: PaperPage, table: _Table, x: float) -> None:
    starts = [x + sum(table.widths[:n]) for n in range(len(table.widths))]
    for left, name, wide in zip(starts, table.names, table.widths, strict=False):
        page.text(left, page.y, name, 8, width=wide - 1)
    page.y += 4 if table.names else 0
    for row in table.rows:
        tall = _ROW + (_PENCIL if any(e.pencil for e in row) else 0)
        page.need(tall)
        for left, wide, one in zip(starts, table.widths, row, strict=True):
            page.text(left, page.y, one.ink, 10.5, "B", width=wide - 1.5, whole=one.whole)
            if one.pencil:
                pencil(page, left, page.y + _ROW - 0.3, wide - 1, one.pencil)
        page.y += tall
