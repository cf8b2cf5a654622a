"""Findings for a list: of the first records soon, of all of them when they are there.

Invariant: checks run beside everything else and keep no key waiting; where much has to be
read or looked at, other processes do it. What was found before stays in sight until it is
replaced.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from tui.widgets.asking import LAST, AskingScreen

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Finding

_FIRST = 20  # about as many as are in view


class Checking:
    """Has documents checked, behind everything that a person waits for."""

    def __init__(self, page: AskingScreen, changed: Callable[[], None]) -> None:
        self.findings: dict[str, list[Finding]] = {}  # by document; absent: not checked yet
        self._page = page
        self._changed = changed
        self._round = 0  # an older round is given up

    def start(self, names: Sequence[str], then: Callable[[], None]) -> None:
        """Check these, the first of them before the others; `then` is called once, at the end."""
        self._round += 1
        this, all_of_them = self._round, list(names)

        def known(found: dict[str, list[Finding]] | None) -> None:
            if found is None or self._round != this:
                return
            self.findings |= found
            self._changed()

        def read(_: object) -> None:
            first = all_of_them[:_FIRST]
            self._ask(lambda book: self._check(book.check_alone, first, this), known)
            self._ask(lambda book: self._check(book.check, all_of_them, this), last)

        def last(found: dict[str, list[Finding]] | None) -> None:
            known(found)
            if self._round == this:
                then()

        self._ask(lambda book: book.read_past() if self._round == this else None, read)

    def _ask(self, question: Callable[[Book], Any], then: Callable[[Any], None]) -> None:
        self._page.ask("", question, then, urgency=LAST, checking=True)

    def _check(
        self, check: Callable[[list[str]], list[Finding]], names: list[str], this: int
    ) -> dict[str, list[Finding]] | None:
        """What is found of each; None where a newer round has begun meanwhile."""
        if self._round != this:
            return None
        found: dict[str, list[Finding]] = {name: [] for name in names}
        for finding in check(names):
            if finding.record in found:  # of the book some are told whatever is asked for
                found[finding.record].append(finding)
        return found
