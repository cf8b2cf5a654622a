"""What jaws and fingers hold of blank and part, seen from the side; heights are to one scale.

Invariant: blank and part share the scale and the ground. Jaws are drawn below and
fingers above, however the machine stands; widths stand for nothing. The sums are
the engine's figures. Lengths are in the record's unit.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from engine.views import Bites, Figure, PieceHeld
from engine.views.wording.lengths import length, unit_in_words
from tui.pictures.pieces import DrawnPiece, Spans, sketch, spans
from tui.pictures.signs import (
    NARROWEST,
    Signs,
    cannot_tell,
    finish,
    signs,
    words,
)
from tui.safe import fit

_BESIDE = 68  # width from which blank and part stand side by side
_AROUND = 9  # lines around the heights: heading, names, edges, fingers, ground, sums
_GAP = 2
Measure = Callable[[float], str]


def bite_view(
    shown: Bites, width: int = 80, *, ascii_only: bool = False, height: int = 20
) -> list[str]:
    """Blank and part as jaws and fingers hold them, side by side in `height` lines.

    One over the other, each of that height, where the width is too small.
    """
    inner, sign = max(width, NARROWEST), signs(ascii_only)
    measure = partial(length, unit=shown.unit)
    together = inner >= _BESIDE
    wide = (inner - _GAP) // 2 if together else inner
    pieces = [_piece(held) for held in shown.pieces]
    tallest = max((piece.height for piece in pieces if piece), default=1.0)
    scale = tallest / max(height - _AROUND, 6)
    found = [spans(piece, scale) if piece else Spans(0, 0, 0) for piece in pieces]
    most = max(span.lines for span in found) if together else 0
    blocks = []
    for held, piece, span in zip(shown.pieces, pieces, found, strict=True):
        drawn = _drawn(piece, span, max(most - span.lines, 0), sign, measure)
        blocks.append([*words(_name(held, measure), wide), *drawn, *_sums(held, wide, measure)])
    lines = [f"Bites in {unit_in_words(shown.unit)}; heights to scale, widths not"]
    lines += _joined(blocks[0], blocks[1], wide) if together else [*blocks[0], "", *blocks[1]]
    return finish(lines, width, ascii_only)


def _joined(one: list[str], other: list[str], wide: int) -> list[str]:
    rows = max(len(one), len(other))
    pairs = zip(one + [""] * (rows - len(one)), other + [""] * (rows - len(other)), strict=True)
    return [fit(left, wide) + " " * _GAP + right for left, right in pairs]


def _piece(held: PieceHeld) -> DrawnPiece | None:
    """What is known of it; None without a height, since nothing can be drawn then."""
    if held.height is None or held.height <= 0:
        return None
    return DrawnPiece(held.height, held.jaws, held.fingers, held.jaws_inside, held.fingers_inside)


def _name(held: PieceHeld, measure: Measure) -> str:
    high = f", {measure(held.height)} high" if held.height is not None else ""
    return held.what.upper() + high


def _drawn(
    piece: DrawnPiece | None, span: Spans, lower: int, sign: Signs, measure: Measure
) -> list[str]:
    """The drawing, `lower` lines further down so that both stand on one ground."""
    if piece is None:
        return []
    labels = {
        "fingers": "fingers hold " + measure(piece.fingers or 0.0),
        "jaws": "jaws hold " + measure(piece.jaws or 0.0),
    }
    free = piece.free
    if free is None:
        unknown = [n for n, b in (("fingers", piece.fingers), ("jaws", piece.jaws)) if b is None]
        labels["free"] = f"cannot tell: {', '.join(unknown)}"
    else:
        labels["free"] = f"free {measure(free)}"
        labels["meet"] = f"overlap by {measure(-free)}"
    return [""] * lower + sketch(piece, span, labels, sign)


def _sums(held: PieceHeld, wide: int, measure: Measure) -> list[str]:
    """The free height as a sum, with its verdict; or all that is missing for it."""
    free = held.free
    if free.missing:
        lines = cannot_tell(free.missing, wide, "free height")
    else:
        lines = [line for part in _sum(held, free, measure) for line in words(part, wide)]
    if held.stick_out is not None:
        lines.append(f"stands {measure(held.stick_out)} out of the jaws")
    return lines


def _sum(held: PieceHeld, free: Figure, measure: Measure) -> list[str]:
    if free.value is None:
        return []
    parts = (held.least_height, held.jaws, held.fingers)
    texts = " - ".join(measure(part) for part in parts if part is not None)
    lead = f"at least {measure(free.limit)}: " if free.limit is not None else ""
    end = free.note if free.verdict == "for information" and free.note else free.verdict
    return [f"{texts} = {measure(free.value)} free", lead + end]
