"""Text in paragraphs, and an error in full.

Invariant: an error is told with what happened, where, and what to do next.
"""

from __future__ import annotations

from collections.abc import Sequence

from schemas.errors import ReadError, WitnessmarkError
from tui.safe import wrap
from tui.widgets.lines import Item
from tui.widgets.paint import StyledRow, StyledText


def paragraph(number: int, text: str, style: str = "", indent: int = 2) -> Item:
    """Text that is broken to the width; it cannot be chosen."""

    def draw(width: int) -> Sequence[StyledRow]:
        room = max(width - indent - 1, 20)
        return [((" " * indent, ""), (line, style)) for line in wrap(text, room)]

    return Item(f"paragraph {number}", draw, heading=True)


def paragraphs(texts: Sequence[StyledText]) -> list[Item]:
    """Several, with a free line after each; empty ones are left out."""
    items: list[Item] = []
    for number, (text, style) in enumerate(t for t in texts if t[0]):
        items += [paragraph(2 * number, text, style), paragraph(2 * number + 1, "")]
    return items


def error_texts(error: WitnessmarkError) -> list[StyledText]:
    """An error in full."""
    if isinstance(error, ReadError):
        return [*((str(problem), "") for problem in error.problems), (error.hint, "strong")]
    where = [(f"Where: {error.where}", "")] if error.where else []
    what = f"{error.what[:1].upper()}{error.what[1:]}."
    return [(what, "error"), *where, (error.hint, "")]
