"""A page that lists what will change and asks for the reason.

Invariant: Enter acts once, and only where the list was seen before it was typed; what
is typed ahead belongs to the reason. While the engine is at work keys are kept, not
played; a refusal leaves list and typed reason as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from schemas.errors import Conflict, FoundOnDisk, WitnessmarkError
from tui.screens.subject import AboutOne, Subject
from tui.widgets.keys import MOVING, PageKey, key
from tui.widgets.lines import Item
from tui.widgets.typing_page import TypingPage

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Inked


class ReasonPage(AboutOne, TypingPage):
    """Its answer is what was inked, or `disk` or `contested` where that came first."""

    VERB, DOING = "ink", "inking"

    def __init__(self, subject: Subject, reason: str = "") -> None:
        super().__init__(reason)
        self.subject = subject
        self.needed = True
        self.ready = False
        self._unlisted = False  # whether Enter met with another list than was shown

    def act(self, book: Book, reason: str) -> Inked:
        """What Enter does."""
        raise NotImplementedError

    def differs(self, book: Book) -> bool:
        """Whether what Enter would do is no longer what was listed."""
        raise NotImplementedError

    def live_keys(self) -> tuple[PageKey, ...]:
        """Letters belong to the reason."""
        return (
            key("Enter", self.VERB, "", ""),
            key("Esc", "not now", "", "back"),
            PageKey((), "Up/Down", "look through the list", "", ""),
            *MOVING,
        )

    def show_changes(self, items: Sequence[Item], needed: bool) -> None:
        """List what will change; begin to ask for the reason."""
        self.needed, self.ready = needed, True
        self.lines.show(items)
        self.show_frame()
        self._show_reason()
        if self._unlisted:
            self.tell("This changed meanwhile: nothing was done. Look, then press Enter again.")
        self.sight.show_anew(refusal=self._unlisted)
        self._unlisted = False

    def typed(self) -> None:
        """Show the reason; what was said of the one before goes."""
        self._show_reason()
        self.tell("")

    def _show_reason(self) -> None:
        self.detail.say(*self.line_row(" Reason" if self.needed else " Reason (if any)"))

    def accept(self) -> None:
        """Act, once."""
        reason = self.text
        if not self.ready or not self.in_sight():
            return
        if self.needed and not reason:
            self.tell("A reason is needed: type in a few words why.", "error")
            return

        def question(book: Book) -> Inked | None:
            return None if self.differs(book) else self.act(book, reason)

        self.ask(self.DOING, question, self._done, failed=self._refused, hold=True)

    def _done(self, inked: Inked | None) -> None:
        if inked is None:
            self.load()
            self._unlisted = True
        else:
            self.dismiss(inked)

    def _refused(self, error: WitnessmarkError) -> None:
        if isinstance(error, FoundOnDisk):
            self.dismiss("disk")
        elif isinstance(error, Conflict):
            self.dismiss("contested")
        else:
            self.tell_error(error)
            self.sight.show_anew(refusal=True)
