"""What the sections of a sheet are built from: headings, pairs of name and value, cautions.

A section's heading hangs on a line with one notch across it, the mark this
program is named after. Pencil always stands in a dashed frame with the word.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.exports.page import EDGE, RIGHT, ROOM, PaperPage
from engine.exports.values import PrintedValue

ROW = 6.0
_LABEL, _VALUE = 8.0, 11.0
_BELOW = 5.6


def heading(page: PaperPage, text: str, beside: str = "", width: float = ROOM) -> None:
    """A section begins; its words take no more than a width."""
    y = page.y
    page.rule(EDGE, y + 1.2, RIGHT, y + 1.2, 0.45)
    page.rule(EDGE + 4, y, EDGE + 4, y + 2.4, 0.45)
    taken = page.text(EDGE, y + 2.6, text, 12, "B", width=width)
    if beside:
        page.text(EDGE + taken + 4, y + 3.3, beside, 9, width=RIGHT - EDGE - taken - 4)
    page.y = y + 8.6


def sentence(words: str) -> str:
    """Words as a sentence begins; names in them keep their capitals."""
    return words[:1].upper() + words[1:]


def named(title: str, mark: PrintedValue) -> str:
    """A heading with the mark that is engraved on the thing."""
    pencilled = f"(pencil {mark.pencil})" if mark.pencil else ""
    return " · ".join(filter(None, (title, mark.ink, pencilled)))


def caution(page: PaperPage, x: float, y: float, text: str, width: float) -> float:
    """A caution where it matters; the height it took."""
    page.solid(x, y + 0.5, 1.4, 3.2)
    return page.paragraph(x + 2.6, y, f"Caution: {text}", 8.5, "B", width=width - 2.6)


def pair(
    page: PaperPage,
    x: float,
    y: float,
    width: float,
    one: PrintedValue,
    label: float = 24.0,
    *,
    below: bool = False,
) -> None:
    """A name and its value, pencil beside or below it; an unknown one is a line to write on."""
    page.text(x, y + 0.9, one.label, _LABEL, width=label - 1)
    left = width - label - 1
    if not one.ink and not one.pencil:
        page.rule(x + label, y + 4.6, x + width - 2, y + 4.6)
        return
    words = one.ink or "nothing"
    taken = page.text(x + label, y, words, _VALUE, "B", width=left, whole=one.whole)
    if one.pencil and below:
        pencil(page, x + label, y + _BELOW, left, one.pencil)
    elif one.pencil:
        pencil(page, x + label + taken + 1.5, y, left - taken - 1.5, one.pencil)


def pencil(page: PaperPage, x: float, y: float, width: float, text: str) -> None:
    """A pencilled value in its dashed frame."""
    taken = page.text(
        x + 1, y + 0.4, f"pencil {text}", 9, "I", width=width - 2, whole=len(text) < 40
    )
    page.dashed(x, y - 0.1, taken + 2, 5.0)


def pairs(
    page: PaperPage,
    x: float,
    y: float,
    widths: Sequence[float],
    entries: Sequence[PrintedValue],
    label: float = 24.0,
) -> float:
    """Names and values in columns, down and then across; the height they took."""
    low = y
    for across, below in _rows(page, widths, entries, label):
        for n, one in enumerate(across):
            pair(page, x + sum(widths[:n]), low, widths[n], one, label, below=below)
        low += ROW + (_BELOW if below else 0)
    return low - y


def pairs_tall(
    page: PaperPage, widths: Sequence[float], entries: Sequence[PrintedValue], label: float = 24.0
) -> float:
    """The height that `pairs` will take."""
    rows = _rows(page, widths, entries, label)
    return sum(ROW + (_BELOW if below else 0) for _, below in rows)


def _rows(
    page: PaperPage, widths: Sequence[float], entries: Sequence[PrintedValue], label: float
) -> Iterator[tuple[Sequence[PrintedValue], bool]]:
    """The entries of each row, and whether their pencil stands below."""
    rows = -(-len(entries) // len(widths))
    for row in range(rows):
        across = entries[row::rows]
        crowded = zip(widths, across, strict=False)
        yield across, any(_crowded(page, wide - label - 1, one) for wide, one in crowded)


def _crowded(page: PaperPage, room: float, one: PrintedValue) -> bool:
    """Whether ink and pencil cannot stand side by side in a readable size."""
    if not one.pencil:
        return False
    ink = page.width(one.ink or "nothing", _VALUE, "B")
    return ink + page.width(f"pencil {one.pencil}", 9, "I") + 4 > room


def tick(page: PaperPage, x: float, y: float, size: float = 5.0) -> None:
    """An empty box to tick."""
    page.box(x, y, size, size, 0.45)
