"""To ink: the list of changes, and why.

Invariant: what is listed is my pencil as the journal has it, nothing else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.screens.notice import paragraph
from tui.screens.reason import ReasonPage
from tui.screens.words import change_row, count
from tui.widgets.lines import Item

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from engine.answers import Draft, Inked, Pencilled
    from engine.book import Book
    from tui.widgets.paint import Row


class Ink(ReasonPage):
    """Lists my pencil on a document and inks it with a reason."""

    def heading(self) -> str:
        """What is to be inked."""
        return f"Ink {self.name_of_record}"

    def load(self) -> None:
        """My pencil, and whether a reason is needed."""
        name = self.name_of_record
        self.ask_to_show(
            "looking", lambda book: (book.draft(name), book.needs_reason(name)), self._show
        )

    def _show(self, answer: tuple[Draft | None, bool]) -> None:
        draft, needed = answer
        if draft is None:
            self.lines.show([paragraph(0, "There is nothing in pencil here.")])
            return
        self.about.say((f" {count(len(draft.marks), 'value')} will be inked as {self._who()}:", ""))
        items = [Item(mark.address, _drawer(mark), heading=False) for mark in draft.marks]
        self.show_changes(items, needed)

    def _who(self) -> str:
        return self.bench.me.name

    def act(self, book: Book, reason: str) -> Inked:
        """Ink it."""
        return book.ink(self.name_of_record, reason)


def _drawer(mark: Pencilled) -> Callable[[int], Sequence[Row]]:
    from engine.answers import Change

    def draw(width: int) -> Sequence[Row]:
        change = Change(mark.address, mark.inked, mark.value, mark.unit, mark.delta)
        return [change_row(change, width)]

    return draw
