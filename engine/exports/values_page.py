"""Second part of a sheet: what is put into the control and read back there.

Each taught value has an empty box under it for what was read at the machine.
Axes stand in the cell's order, stations in that of its round. None is left out:
a wide cell gets its table in two bands, a long one goes on over the page.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.exports.page import EDGE, RIGHT, ROOM, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import caution, heading, pencil
from engine.exports.values import PrintedValue, keys, number, stations, worded

_NAME = 27.0
_MOST_AXES = 7
_VALUE, _BOX = 6.4, 7.2


def draw(page: PaperPage, set_up: SetUp) -> None:
    """Draw it: on the second page, or after a tray that went there already."""
    if page.number == 1:
        page.turn()
    _positions(page, set_up)


# positions


def _positions(page: PaperPage, set_up: SetUp) -> None:
    heading(page, "Taught positions", "write what the control shows into the box below each value")
    most = set_up.facts.policy.teaching_speed_most
    speed = f"; this shop allows {worded(most, 'mm/s')} at the fingers" if most is not None else ""
    page.y += caution(page, EDGE, page.y, f"teach at reduced speed{speed}.", ROOM) + 1
    found, axes = stations(set_up), _axes(set_up)
    if not found:
        page.text(EDGE, page.y, "no position is in the record", 11, "B")
        page.y += 8
        return
    for start in range(0, len(axes), _MOST_AXES):
        band = axes[start : start + _MOST_AXES]
        wide = (ROOM - _NAME) / max(len(band), 4)
        _axis_names(page, set_up, band, wide)
        for station in found:
            if any(_has(set_up, station, axis) for axis in band):
                _position(page, set_up, station, band, wide)
    page.text(EDGE, page.y + 0.8, "read back by", 9)
    page.rule(EDGE + 22, page.y + 5, EDGE + 80, page.y + 5)
    page.text(EDGE + 84, page.y + 0.8, "on", 9)
    page.rule(EDGE + 90, page.y + 5, EDGE + 130, page.y + 5)
    page.y += 7.5


def _axes(set_up: SetUp) -> list[str]:
    cell = set_up.facts.cell
    order = cell.axis_order() if cell else []
    used = [axis for station in stations(set_up) for axis in _wanted(set_up, station)]
    return [axis for axis in dict.fromkeys([*order, *used]) if axis in used]


def _wanted(set_up: SetUp, station: str) -> list[str]:
    """Axes that the cell asks for at a station, and those that the record has beside them."""
    cell = set_up.facts.cell
    asked = cell.stations[station].axes if cell and station in cell.stations else []
    return list(dict.fromkeys([*asked, *keys(set_up, f"positions.{station}", 2)]))


def _has(set_up: SetUp, station: str, axis: str) -> bool:
    return axis in _wanted(set_up, station)


def _axis_names(page: PaperPage, set_up: SetUp, axes: Sequence[str], wide: float) -> None:
    page.need(10 + 2 * (_VALUE + _BOX))
    cell = set_up.facts.cell
    for n, name in enumerate(axes):
        axis = cell.axes.get(name) if cell else None
        x = EDGE + _NAME + n * wide
        page.text(x + 1, page.y, name, 11, "B", width=wide - 2)
        page.text(x + 1, page.y + 5, f"{axis.unit}, {axis.of}" if axis else "", 8, width=wide - 2)
    page.y += 9.2
    page.rule(EDGE, page.y, RIGHT, page.y, 0.4)


def _position(
    page: PaperPage, set_up: SetUp, station: str, axes: Sequence[str], wide: float
) -> None:
    entries = {
        axis: number(set_up, f"positions.{station}.{axis}")
        for axis in axes
        if _has(set_up, station, axis)
    }
    pencilled = 5.6 if any(e.pencil for e in entries.values()) else 0.0
    tall = _VALUE + pencilled + _BOX + 1.4
    page.need(tall)
    top = page.y + 0.7
    page.text(EDGE, top + 0.2, station, 13, "B", width=_NAME - 1)
    page.text(EDGE, top + 6.2, _what(set_up, station), 8, width=_NAME - 1)
    for n, axis in enumerate(axes):
        if axis in entries:
            _value(page, entries[axis], EDGE + _NAME + n * wide, top, wide, pencilled)
    page.y += tall
    page.rule(EDGE, page.y, RIGHT, page.y, 0.15)


def _value(
    page: PaperPage, one: PrintedValue, x: float, top: float, wide: float, pencilled: float
) -> None:
    page.text(x + 1, top, one.ink or "not taught", 13 if one.ink else 9, "B", width=wide - 2,
              whole=True)  # fmt: skip
    if one.pencil:
        pencil(page, x + 0.5, top + _VALUE - 0.2, wide - 1.5, one.pencil)
    page.box(x + 0.5, top + _VALUE + pencilled - 0.5, wide - 2, _BOX, 0.3)


def _what(set_up: SetUp, station: str) -> str:
    cell = set_up.facts.cell
    known = cell.stations.get(station) if cell else None
    if known is None:
        return "unknown to the cell"
    words = known.does if known.place == known.does else f"{known.place}: {known.does}"
    return f"{words}, at r1c1" if known.over_tray else words
