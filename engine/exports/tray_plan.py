"""The tray on the sheet: seen from above, near side down, each pocket with its turn.

To scale where the record has the sizes; otherwise a scheme that says so. A
pocket that is not loaded is crossed out and has no number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from engine.exports.page import EDGE, RIGHT, ROOM, TALL, PaperPage
from engine.exports.page import FOOT as PAGE_FOOT
from engine.exports.paper import SetUp
from engine.exports.parts import caution, heading, named, pairs, pairs_tall
from engine.exports.plan import Spot, TrayPlan, plan, schematic
from engine.exports.values import PrintedValue, entry
from engine.figures.inputs import Missing

_SIDE = 60.0  # mm for values and photo beside the plan
_LEAST, _MOST = 44.0, 84.0
_REFILL = "lock out before refilling a live loader."
_TURN = 8.5  # points, for numbers beside the plate
_BETWEEN, _ABREAST = 3.2, 7.0  # mm that such a number takes, in height and in width
_LEAST_POCKET = 6.5  # mm on paper: a number in it is readable at arm's length


def draw_tray(
    page: PaperPage, set_up: SetUp, photo: Callable[[float, float, float, float], None]
) -> None:
    """Draw the section in what is left of the page, or on the next one."""
    entries = _entries(set_up)
    beside = pairs_tall(page, (_SIDE,), entries) + 9
    page.need(max(_LEAST, beside) + 10)
    heading(page, named("Tray", entry(set_up, "", "tray.plate")))
    tall = min(TALL - PAGE_FOOT - page.y - 1, _MOST)
    top, width = page.y, ROOM - _SIDE - 4
    _plan(page, set_up, EDGE, top, width, tall - 1)
    x = RIGHT - _SIDE
    taken = pairs(page, x, top, (_SIDE,), entries)
    taken += caution(page, x, top + taken, _REFILL, _SIDE)
    left = tall - taken - 2
    if left > 14:
        photo(x, top + taken + 1, _SIDE, left)
    page.y = top + tall


def _entries(set_up: SetUp) -> list[PrintedValue]:
    unused = entry(set_up, "not loaded", "tray.unused")
    return [
        entry(set_up, "kept at", "tray.kept_at"),
        entry(set_up, "pitch across", "tray.pitch_across"),
        entry(set_up, "pitch along", "tray.pitch_along"),
        entry(set_up, "pocket", "tray.pocket_size", "tray.pocket_length", join=" by "),
        entry(set_up, "deep", "tray.pocket_depth"),
        *([unused] if unused.ink or unused.pencil else []),
    ]


def _plan(page: PaperPage, set_up: SetUp, x: float, y: float, wide: float, tall: float) -> None:
    found = _found(set_up)
    if isinstance(found, Missing):
        words = f"The order over the tray cannot be drawn without {found}."
        page.paragraph(x, y + 2, words, 10, "B", width=wide)
        return
    loaded = sum(1 for spot in found.spots if spot.turn)
    bed = set_up.facts.cell.bed if set_up.facts.cell else None
    path = (bed.path if bed else None) or "the cell names no order"
    told = f"{loaded} of {len(found.spots)} loaded; {path}, r1c1 {bed.corner if bed else ''}"
    page.text(x, y, told, 10, "B", width=wide)
    if found.missing:
        told = f"not to scale: without {', '.join(found.missing)}"
        page.text(x, y + tall - 4, told, 8, "B", width=wide)
    sheet = _Sheet.fitted(found, x, y + 5, wide, tall - 13.5)
    page.box(sheet.left, sheet.top, found.wide * sheet.scale, found.deep * sheet.scale, 0.4)
    for spot in found.spots:
        _spot(page, found, spot, sheet)
    if bed is not None and bed.path is not None:
        if sheet.dense(found):
            _lines(page, found, sheet, bed.path)
        else:
            _numbers(page, found, sheet)
    low = sheet.top + found.deep * sheet.scale + (4.4 if sheet.dense(found) else 0.6)
    page.text(x, low, "near side, seen from above", 8, width=wide, align="C")


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where the plan lies on the page: its top left corner, and mm of paper for one of tray."""

    left: float
    top: float
    scale: float

    @classmethod
    def fitted(cls, found: TrayPlan, x: float, y: float, wide: float, tall: float) -> _Sheet:
        """As large as goes into a frame; with room all round for numbers where it is dense."""
        whole = cls(0, 0, min(wide / found.wide, tall / found.deep))
        edge = 8.0 if whole.dense(found) else 0.0
        scale = min((wide - 2 * edge) / found.wide, (tall - edge) / found.deep)
        return cls(x + (wide - found.wide * scale) / 2, y + edge / 2, scale)

    def dense(self, found: TrayPlan) -> bool:
        """Whether numbers in the pockets would be too small to read."""
        spot = found.spots[0]
        return min(spot.wide, spot.deep) * self.scale < _LEAST_POCKET

    def at(self, found: TrayPlan, spot: Spot) -> tuple[float, float]:
        """The middle of a pocket on the page."""
        return self.left + spot.x * self.scale, self.top + (found.deep - spot.y) * self.scale


def _found(set_up: SetUp) -> TrayPlan | Missing:
    try:
        return plan(set_up.facts)
    except Missing as error:
        try:
            return schematic(set_up.facts, error.addresses)
        except Missing as worse:
            return worse


def _spot(page: PaperPage, found: TrayPlan, spot: Spot, sheet: _Sheet) -> None:
    """The pocket; r1c1, which is the taught one, with a heavy edge; crossed if not loaded."""
    x, y = sheet.at(found, spot)
    wide, tall = spot.wide * sheet.scale, spot.deep * sheet.scale
    draw = page.ring if found.round else page.middle_box
    draw(x, y, wide, tall)
    if spot.name == "r1c1":
        draw(x, y, wide + 1.2, tall + 1.2, 0.6)
    if not spot.turn:
        a, b = wide / 2 * 0.7, tall / 2 * 0.7
        page.rule(x - a, y - b, x + a, y + b, 0.4)
        page.rule(x - a, y + b, x + a, y - b, 0.4)


def _numbers(page: PaperPage, found: TrayPlan, sheet: _Sheet) -> None:
    """Each pocket's turn in the pocket."""
    for spot in found.spots:
        if not spot.turn:
            continue
        x, y = sheet.at(found, spot)
        room = min(spot.wide, spot.deep) * sheet.scale
        size = min(room * (1.05 if spot.turn < 100 else 0.8), 13.0)
        page.text(x - 10, y - size * 0.235, str(spot.turn), size, "B", width=20, align="C")
        if spot.name == "r1c1" and room > 9:
            page.text(x - 10, y + room * 0.2, "r1c1", 6, width=20, align="C")


def _lines(page: PaperPage, found: TrayPlan, sheet: _Sheet, path: str) -> None:
    """An arrow along each row or column; beside the plate its first and last turn, where the
    lines are too close not of each, but of the first, of the last, and of some between.
    """
    lines = _in_lines(found, path)
    longest = max(lines, key=len)
    (x0, y0), (x1, y1) = sheet.at(found, longest[0]), sheet.at(found, longest[-1])
    level = abs(x1 - x0) >= abs(y1 - y0)
    every = ceil((_BETWEEN if level else _ABREAST) / (_apart(found, level) * sheet.scale))
    for n, line in enumerate(lines):
        first, last = sheet.at(found, line[0]), sheet.at(found, line[-1])
        if len(line) > 1:
            page.arrow(*first, *last)
        ahead = first[0] <= last[0] if level else first[1] <= last[1]
        if n == len(lines) - 1 or (n % every == 0 and n <= len(lines) - 1 - every):
            _beside(page, found, sheet, line[0], level, not ahead)
            if len(line) > 1:
                _beside(page, found, sheet, line[-1], level, ahead)


def _apart(found: TrayPlan, level: bool) -> float:
    """From one line of pockets to the next."""
    places = sorted({round(s.y if level else s.x, 6) for s in found.spots})
    return min((b - a for a, b in pairwise(places)), default=found.deep)


def _in_lines(found: TrayPlan, path: str) -> list[list[Spot]]:
    """The loaded pockets of each row, or of each column where the path goes by columns."""
    lines: dict[str, list[Spot]] = {}
    for spot in sorted((s for s in found.spots if s.turn), key=lambda s: s.turn):
        row, _, column = spot.name.partition("c")
        lines.setdefault(row if path.startswith("row") else column, []).append(spot)
    return list(lines.values())


def _beside(
    page: PaperPage, found: TrayPlan, sheet: _Sheet, spot: Spot, level: bool, after: bool
) -> None:
    """A pocket's turn outside the plate, at the end of its line."""
    x, y = sheet.at(found, spot)
    words = str(spot.turn)
    if level:
        edge = sheet.left + (found.wide * sheet.scale + 1 if after else -9)
        align = "L" if after else "R"
        page.text(edge, y - 1.9, words, _TURN, "B", width=8, align=align, whole=True)
    else:
        low = sheet.top + (found.deep * sheet.scale + 0.3 if after else -3.9)
        page.text(x - 4, low, words, _TURN, "B", width=8, align="C", whole=True)
