"""To ink: the list of changes, what they do to the figures, and why.

Invariant: what is listed is my pencil as the journal has it, nothing else. A
figure that no longer fits is told above the list, too; it never forbids the ink.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views import Change
from engine.views.wording import count, is_record
from tui.screens.changes import change_row
from tui.screens.judged import PROVE, Outcome, broken, broken_words, change_items, outcome_of
from tui.screens.reason import ReasonPage
from tui.screens.subject import Subject
from tui.widgets.lines import Item
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from engine.book import Book
    from engine.views import Draft, Inked, Pencilled
    from schemas.errors import WitnessmarkError
    from tui.widgets.paint import StyledRow

_DOES = "what it does to the figures"


class Ink(ReasonPage):
    """Lists my pencil on a document and inks it with a reason."""

    def __init__(self, subject: Subject, reason: str = "") -> None:
        super().__init__(subject, reason)
        self._values: list[Item] = []
        self._listed: Sequence[Pencilled] = ()

    def heading(self) -> str:
        """What is to be inked."""
        return f"Ink {self.name_of_record}"

    def load(self) -> None:
        """My pencil, whether a reason is needed, and then the figures."""

        def look(book: Book) -> tuple[Draft | None, bool]:
            document = self.subject.of(book)
            return document.pencil.draft(), document.needs_reason()

        self.ask_to_show("looking", look, self._show)

    def _show(self, answer: tuple[Draft | None, bool]) -> None:
        draft, needed = answer
        if draft is None:
            self.lines.show([paragraph(0, "There is nothing in pencil here.")])
            return
        self._say(f"{count(len(draft.marks), 'value')} will be inked as {self.bench.me.name}", "")
        self._listed = draft.marks
        self._values = [Item(mark.address, _drawer(mark), heading=False) for mark in draft.marks]
        self.show_changes(self._values, needed)
        if is_record(self.name_of_record):
            ask = lambda book: outcome_of(self.subject.of(book))  # noqa: E731
            self.ask("", ask, self._show_figures, failed=self._no_figures)

    def _say(self, text: str, worse: str) -> None:
        self._said = text
        self.about.say((f" {text}", ""), (worse and f"; {worse}", "error"), (":", ""))

    def _show_figures(self, outcome: Outcome) -> None:
        changes = outcome.changes
        if broken(changes):
            self._say(self._said, broken_words(changes))
        self.head.say((f" {PROVE}", ""))
        items = change_items(changes, f"{_DOES}, worst first")
        counts = ", ".join(outcome.counts)
        none = [paragraph(0, ""), paragraph(1, "It changes no figure noticeably.")]
        self.lines.show([*self._values, *(items or none), paragraph(2, f"With it: {counts}.")])

    def _no_figures(self, error: WitnessmarkError) -> None:
        text = f"The figures cannot be worked out: {error}"
        self.lines.show([*self._values, paragraph(0, ""), paragraph(1, text, "warning")])

    def differs(self, book: Book) -> bool:
        """Whether my pencil is another by now; what was overtaken is refused with names."""
        draft = self.subject.of(book).pencil.draft()
        marks = draft.marks if draft is not None else ()
        return marks != self._listed and not any(mark.contested for mark in marks)

    def act(self, book: Book, reason: str) -> Inked:
        """Ink it."""
        return self.subject.of(book).ink(reason)


def _drawer(mark: Pencilled) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        change = Change(mark.address, mark.inked, mark.value, mark.unit, mark.delta)
        return [change_row(change, width)]

    return draw
