"""What is seen before the book is open, or when it cannot be opened.

Invariant: imports nothing of the engine, so that the first picture is quick.
"""

from __future__ import annotations

from schemas.errors import WitnessmarkError
from tui.safe import wrap
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import Item
from tui.widgets.page import Page
from tui.widgets.paint import StyledRow


class Opening(Page):
    """Says that the book is being opened; says why where it cannot be."""

    KEYS = (key("q", "leave", "leave the program", "leave"),)

    def __init__(self) -> None:
        super().__init__()
        self._text: tuple[tuple[str, str], ...] = (("Opening the book ...", ""),)

    def live_keys(self) -> tuple[PageKey, ...]:
        """Leaving is all that can be done here."""
        return self.KEYS

    def load(self) -> None:
        """Show what is known."""

        def draw(width: int) -> list[StyledRow]:
            rows: list[StyledRow] = [()]
            for text, style in self._text:
                lines = wrap(text, max(width - 4, 20))
                rows += [(("  ", ""), (line, style)) for line in lines] + [()]
            return rows

        self.lines.show([Item("text", draw, heading=True)])

    def fail(self, error: WitnessmarkError) -> None:
        """The book cannot be opened: what, where, and what to do."""
        where = f"Where: {error.where}" if error.where else ""
        what = f"The book cannot be opened: {error.what}."
        parts = ((what, "error"), (where, ""), (error.hint, ""))
        self._text = tuple(part for part in parts if part[0])
        self.load()

    def do_leave(self) -> None:
        """Leave with the exit code for an unreadable book."""
        self.app.exit(2)
