"""A rewritten past: what is lost, how to get it back, and a lead's word that it is known.

Invariant: one lost tip is acknowledged at a time, with a reason, and the page names it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.screens.reason import ReasonPage
from tui.screens.subject import Subject
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.book import Book
    from engine.views import Finding, Inked


class Acknowledge(ReasonPage):
    """Lists what is lost of the past and asks why it may stay so; the oldest one comes first."""

    VERB, DOING = "acknowledge", "acknowledging"

    def __init__(self) -> None:
        super().__init__(Subject("book"))
        self._tip = ""

    def heading(self) -> str:
        """Which one."""
        return f"The past was rewritten   {self._tip[:10]}"

    def load(self) -> None:
        """What is lost."""

        def question(book: Book) -> tuple[Sequence[str], Sequence[Finding]]:
            return book.lost_tips(), book.past_errors()

        self.ask_to_show("looking", question, self._show)

    def _show(self, answer: tuple[Sequence[str], Sequence[Finding]]) -> None:
        tips, errors = answer
        texts = [part for error in errors for part in (error.message, error.hint)]
        items = [paragraph(n, text) for n, text in enumerate(texts)]
        if not tips:
            self.begin(None)
            self.lines.show(items or [paragraph(0, "Nothing of the past is lost.")])
            return
        self._tip = tips[0]
        self.show_frame()
        self.about.say((" A lead says why the first of these may stay as it is.", ""))
        self.show_changes(items, needed=True)

    def differs(self, book: Book) -> bool:
        """Whether another tip comes first by now."""
        return book.lost_tips()[:1] != [self._tip]

    def act(self, book: Book, reason: str) -> Inked:
        """Acknowledge it."""
        return book.acknowledge(self._tip, reason)
