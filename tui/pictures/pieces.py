"""One piece between jaws and fingers, drawn from the side; heights in mm, one scale given.

Invariant: with the same scale a larger height, bite or free height never takes
fewer lines; what is more than nothing takes one at least, and jaws and fingers
share lines only where they would meet. What is not known is not drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

from tui.pictures.signs import Signs

WIDE = 14  # cells of a drawing
_MEET = "!"


@dataclass(frozen=True, slots=True)
class DrawnPiece:
    """Height and bites in mm, None where not known; which of the two hold inside."""

    height: float
    jaws: float | None
    fingers: float | None
    jaws_inside: bool = False
    fingers_inside: bool = False

    @property
    def free(self) -> float | None:
        """Between jaws and fingers; below zero where both hold the same stretch."""
        if self.jaws is None or self.fingers is None:
            return None
        return round(self.height - self.jaws - self.fingers, 9)


@dataclass(frozen=True, slots=True)
class Spans:
    """Lines of a piece: in all, of the jaws from below, of the fingers from above."""

    lines: int
    jaws: int
    fingers: int


def spans(piece: DrawnPiece, scale: float) -> Spans:
    """How many lines each takes at `scale` mm a line."""
    lines = _lines(piece.height, scale)
    jaws = min(_lines(piece.jaws or 0.0, scale), lines)
    fingers = min(_lines(piece.fingers or 0.0, scale), lines)
    free = piece.free
    if free is not None and free > 0:
        lines = max(lines, jaws + fingers + 1)
    elif free is not None and jaws and fingers:
        lines = jaws + fingers if free == 0 else min(lines, jaws + fingers - 1)
    return Spans(lines, jaws, fingers)


def _lines(length: float, scale: float) -> int:
    return max(round(length / scale), 1) if length > 0 else 0


def sketch(piece: DrawnPiece, span: Spans, labels: dict[str, str], sign: Signs) -> list[str]:
    """The piece with its labels: `jaws`, `fingers`, `free`, and `meet` where both hold."""
    left, right, low_left, low_right = sign.square
    top = f"   {left}{sign.level * 6}{right}   "
    low = f"   {low_left}{sign.level * 6}{low_right}   "
    wall = f"   {sign.upright}      {sign.upright}   "
    above = " " * WIDE
    body = []
    for line in range(span.lines):
        held = line < span.fingers, line >= span.lines - span.jaws
        body.append(_row(wall, *held, piece, sign))
    if span.fingers:
        above, top = _fingers(above, piece, sign), _fingers(top, piece, sign)
    floor = [sign.half * WIDE] if span.jaws else []
    low = _row(low, False, bool(span.jaws), piece, sign)
    rows = [above, top, *body, low, *floor]
    beside = ["", "", *_brackets(_regions(span), labels, sign), *([""] * (1 + len(floor)))]
    return [f"{row} {text}" for row, text in zip(rows, beside, strict=True)]


def _row(row: str, fingers: bool, jaws: bool, piece: DrawnPiece, sign: Signs) -> str:
    meet = fingers and jaws and piece.jaws_inside == piece.fingers_inside
    if fingers:
        row = _hold(row, _MEET if meet else sign.full, piece.fingers_inside)
    if jaws and not meet:
        row = _hold(row, sign.half, piece.jaws_inside)
    return row


def _fingers(row: str, piece: DrawnPiece, sign: Signs) -> str:
    return _hold(row, sign.full, piece.fingers_inside)


def _hold(row: str, fill: str, inside: bool) -> str:
    """Two holders, to the left and to the right: outside the walls or within them."""
    if inside:
        return row[:4] + fill * 2 + row[6:8] + fill * 2 + row[10:]
    return fill * 3 + row[3:11] + fill * 3


def _regions(span: Spans) -> list[tuple[str, int]]:
    """From above: name of what a stretch shows, and its lines."""
    both = span.jaws + span.fingers - span.lines
    if both > 0:
        return [
            ("fingers", span.fingers - both),
            ("meet", both),
            ("jaws", span.jaws - both),
        ]
    return [("fingers", span.fingers), ("free", -both), ("jaws", span.jaws)]


def _brackets(regions: list[tuple[str, int]], labels: dict[str, str], sign: Signs) -> list[str]:
    found: list[str] = []
    for name, lines in regions:
        ends = (sign.edge[1], sign.edge[3])
        text = labels.get(name, "")
        for line in range(lines):
            mark = ends[0] if line == 0 else ends[1] if line == lines - 1 else sign.upright
            mark = sign.level if lines == 1 else mark
            found.append(f"{mark} {text}" if line == (lines - 1) // 2 else mark)
    return found
