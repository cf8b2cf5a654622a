"""What jaws and fingers hold of blank and part, seen from the side; heights are to one scale.

Invariant: blank and part share the scale and the ground. Jaws are drawn below and
fingers above, however the machine stands; widths stand for nothing. The sums are
the engine's figures. Lengths are in the record's unit.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from engine.figures.geometry.sizes import WHATS, What, fingers, hold_of, size
from engine.figures.groups.bite import figures
from engine.figures.model import Facts, Figure, Missing
from tui.pictures.pieces import DrawnPiece, Spans, sketch, spans
from tui.pictures.signs import (
    NARROWEST,
    Signs,
    cannot_tell,
    finish,
    length,
    signs,
    unit_of,
    words,
)
from tui.safe import fit

_BESIDE = 68  # width from which blank and part stand side by side
_AROUND = 9  # lines around the heights: heading, names, edges, fingers, ground, sums
_GAP = 2


def bite_view(
    facts: Facts, width: int = 80, *, ascii_only: bool = False, height: int = 20
) -> list[str]:
    """Blank and part as jaws and fingers hold them, side by side in `height` lines.

    One over the other, each of that height, where the width is too small.
    """
    inner, sign = max(width, NARROWEST), signs(ascii_only)
    together = inner >= _BESIDE
    wide = (inner - _GAP) // 2 if together else inner
    pieces = [_piece(facts, what) for what in WHATS]
    tallest = max((piece.height for piece in pieces if piece), default=1.0)
    scale = tallest / max(height - _AROUND, 6)
    found = [spans(piece, scale) if piece else Spans(0, 0, 0) for piece in pieces]
    most = max(span.lines for span in found) if together else 0
    blocks = []
    for what, piece, span in zip(WHATS, pieces, found, strict=True):
        drawn = _drawn(facts, piece, span, max(most - span.lines, 0), sign)
        blocks.append([*words(_name(facts, what), wide), *drawn, *_sums(facts, what, wide)])
    unit = "inches" if unit_of(facts) == "in" else "mm"
    lines = [f"Bites in {unit}; heights to scale, widths not"]
    lines += _joined(blocks[0], blocks[1], wide) if together else [*blocks[0], "", *blocks[1]]
    return finish(lines, width, ascii_only)


def _joined(one: list[str], other: list[str], wide: int) -> list[str]:
    rows = max(len(one), len(other))
    pairs = zip(one + [""] * (rows - len(one)), other + [""] * (rows - len(other)), strict=True)
    return [fit(left, wide) + " " * _GAP + right for left, right in pairs]


def _told(ask: Callable[[], float]) -> float | None:
    try:
        return ask()
    except Missing:
        return None


def _piece(facts: Facts, what: What) -> DrawnPiece | None:
    """What is known of it; None without a height, since nothing can be drawn then."""
    tall = _told(lambda: size(facts, what, "height")[1])
    if tall is None or tall <= 0:
        return None
    return DrawnPiece(
        tall,
        _told(lambda: facts.length("jaws.bite")[0]),
        _told(lambda: facts.length(f"{fingers(facts, what)}.bite")[0]),
        facts.record.jaws.inside_or_outside == "inside",
        hold_of(facts, what) == "inside",
    )


def _name(facts: Facts, what: What) -> str:
    tall = _told(lambda: size(facts, what, "height")[1])
    return what.upper() + (f", {length(facts, tall)} high" if tall is not None else "")


def _drawn(
    facts: Facts, piece: DrawnPiece | None, span: Spans, lower: int, sign: Signs
) -> list[str]:
    """The drawing, `lower` lines further down so that both stand on one ground."""
    if piece is None:
        return []
    measure = partial(length, facts)
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
        apart = piece.jaws_inside != piece.fingers_inside
        labels["meet"] = f"{'both over' if apart else 'they MEET by'} {measure(-free)}"
    return [""] * lower + sketch(piece, span, labels, sign)


def _sums(facts: Facts, what: What, wide: int) -> list[str]:
    """The free height as a sum, with its verdict; or all that is missing for it."""
    found = {f.name: f for f in figures(facts) if f.at == what}
    free, out = found["free height"], found["stick-out"]
    if free.missing:
        lines = cannot_tell(free.missing, wide, "free height")
    else:
        lines = [line for part in _sum(facts, what, free) for line in words(part, wide)]
    if out.value is not None:
        lines.append(f"stands {length(facts, out.value)} out of the jaws")
    return lines


def _sum(facts: Facts, what: What, free: Figure) -> list[str]:
    if free.value is None:
        return []
    parts = (
        size(facts, what, "height")[0],
        facts.length("jaws.bite")[0],
        facts.length(f"{fingers(facts, what)}.bite")[0],
    )
    texts = " - ".join(length(facts, part) for part in parts)
    lead = f"at least {length(facts, free.limit)}: " if free.limit is not None else ""
    end = free.note if free.verdict == "for information" and free.note else free.verdict
    return [f"{texts} = {length(facts, free.value)} free", lead + end]
