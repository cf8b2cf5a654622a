"""What takes longer than the values: figures, checks, and how the book's list shows a record.

Invariant: it is worked out behind everything that a person waits for; what a newer edit
overtook is not worked out at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from engine.views.wording import is_record
from schemas.errors import WitnessmarkError
from tui.screens.judged import Outcome, outcome_of, outcome_row
from tui.screens.subject import Subject
from tui.widgets.page import LATER, Page
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Finding, Listed


class Judgement:
    """What is said of a document as a whole; the page shows it in its frame."""

    def __init__(self, page: Page, subject: Subject) -> None:
        self._page = page
        self._subject = subject
        self.listed: Listed | None = None
        self.findings: Sequence[Finding] = ()
        self.past: Sequence[Finding] = ()  # what is lost of the past, whatever the document
        self._outcome: Outcome | None = None
        self._failure: WitnessmarkError | None = None
        self._round = 0  # of edits; what a newer one overtook is not worked out

    def load(self) -> None:
        """Ask for all of it."""
        question = lambda book: book.listed(self._subject.of(book).name)  # noqa: E731
        self._page.ask("", question, self._show_listed, urgency=LATER)
        ask = lambda book: book.past_errors()  # noqa: E731
        self._page.ask("", ask, self._show_past, urgency=LATER)
        self.work_out()

    def work_out(self) -> None:
        """Have figures and checks worked out anew."""
        subject, page = self._subject, self._page
        self._round += 1
        this = self._round

        def figures(book: Book) -> Outcome | None:
            return outcome_of(subject.of(book)) if this == self._round else None

        def checks(book: Book) -> Sequence[Finding] | None:
            if this != self._round:
                return None
            names = [subject.of(book).name]
            return book.check(names) if book.knows_findings() else book.check_alone(names)

        if is_record(subject.name):
            page.ask("", figures, self._show_figures, failed=self._no_figures, urgency=LATER)
        page.ask("", checks, self._show_findings, urgency=LATER, checking=True)

    def figures_row(self, width: int) -> StyledRow:
        """What the pencil does to the figures, in a line."""
        if self._failure is not None:
            return ((f" figures cannot be worked out: {self._failure}", "warning"),)
        return outcome_row(self._outcome, width) if self._outcome is not None else ()

    def _show_listed(self, listed: Listed | None) -> None:
        self.listed = listed
        self._page.show_frame()

    def _show_past(self, errors: Sequence[Finding]) -> None:
        self.past = errors
        self._page.show_frame()

    def _show_figures(self, outcome: Outcome | None) -> None:
        if outcome is not None:
            self._outcome, self._failure = outcome, None
            self._page.show_frame()

    def _no_figures(self, error: WitnessmarkError) -> None:
        self._outcome, self._failure = None, error
        self._page.show_frame()

    def _show_findings(self, findings: Sequence[Finding] | None) -> None:
        if findings is not None:
            self.findings = findings
            self._page.show_frame()
