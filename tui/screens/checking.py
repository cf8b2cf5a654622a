"""Findings for a list: of the first records soon, of all of them when they are there.

Invariant: checks run beside everything else and keep no key waiting. Rules about the
whole book look at all of it however few records are asked for, so each question asks
for more records than the one before. What was found before stays in sight until it
is replaced.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from tui.widgets.asking import LAST, AskingScreen

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Finding

_FIRST, _TIMES = 20, 4  # about as many as are in view


class Checking:
    """Has documents checked, behind everything that a person waits for."""

    def __init__(self, page: AskingScreen, changed: Callable[[], None]) -> None:
        self.findings: dict[str, list[Finding]] = {}  # by document; absent: not checked yet
        self._page = page
        self._changed = changed
        self._round = 0  # an older round is given up

    def start(self, names: Sequence[str]) -> None:
        """Check these, in their order."""
        self._round += 1
        self._go_on(self._round, list(names), _FIRST)

    def _go_on(self, this: int, names: list[str], many: int) -> None:
        now, left = names[:many], names[many:]

        def question(book: Book) -> dict[str, list[Finding]]:
            found: dict[str, list[Finding]] = {name: [] for name in now}
            for finding in book.check(now) if this == self._round else ():
                if finding.record in found:  # of the book some are told whatever is asked for
                    found[finding.record].append(finding)
            return found

        def then(found: dict[str, list[Finding]]) -> None:
            if this != self._round:
                return
            self.findings |= found
            self._changed()
            self._go_on(this, left, many * _TIMES)

        if now:
            self._page.ask("", question, then, urgency=LAST, checking=True)
