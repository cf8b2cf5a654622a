"""A page that says something in full and is closed with a key.

Invariant: an error is told with what happened, where, and what to do next.
"""

from __future__ import annotations

from collections.abc import Sequence

from schemas.errors import ReadError, WitnessmarkError
from tui.safe import wrap
from tui.widgets.keys import key
from tui.widgets.lines import Item
from tui.widgets.page import Page
from tui.widgets.paint import StyledRow


def paragraph(number: int, text: str, style: str = "", indent: int = 2) -> Item:
    """Text that is broken to the width; one that can be moved over."""

    def draw(width: int) -> Sequence[StyledRow]:
        room = max(width - indent - 1, 20)
        return [((" " * indent, ""), (line, style)) for line in wrap(text, room)]

    return Item(f"paragraph {number}", draw, heading=True)


class Notice(Page):
    """Some paragraphs; Enter or Esc closes."""

    KEYS = (key("Enter", "go on", "close this page", "back"),)

    def __init__(self, title: str, paragraphs: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._title = title
        self._paragraphs = paragraphs

    @classmethod
    def of_error(cls, error: WitnessmarkError) -> Notice:
        """An error in full."""
        if isinstance(error, ReadError):
            texts = [(str(problem), "") for problem in error.problems]
            return cls("This cannot be read", [*texts, (error.hint, "strong")])
        where = [(f"Where: {error.where}", "")] if error.where else []
        return cls(
            "This did not work",
            [(error.what[:1].upper() + error.what[1:] + ".", "error"), *where, (error.hint, "")],
        )

    def heading(self) -> str:
        """What it is about."""
        return self._title

    def load(self) -> None:
        """Nothing is asked: all is here."""
        self.lines.show(self.items())

    def items(self) -> list[Item]:
        """The paragraphs as lines."""
        items: list[Item] = []
        for number, (text, style) in enumerate(t for t in self._paragraphs if t[0]):
            items += [paragraph(2 * number, text, style), paragraph(2 * number + 1, "")]
        return items
