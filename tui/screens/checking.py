"""Findings for a list, a few records at a time.

Invariant: one question to the book takes about a tenth of a second at most, so that
a key never waits for the checks of a large book. What was found before stays in
sight until it is replaced.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from tui.widgets.asking import LAST, AskingScreen

if TYPE_CHECKING:
    from engine.answers import Finding
    from engine.book import Book

_SLICE = 0.1  # seconds


class Checking:
    """Has documents checked one after another, behind everything that a person waits for."""

    def __init__(self, page: AskingScreen, changed: Callable[[], None]) -> None:
        self.findings: dict[str, list[Finding]] = {}  # by document; absent: not checked yet
        self._page = page
        self._changed = changed
        self._round = 0  # an answer to an older round is not gone on from

    def start(self, names: Sequence[str]) -> None:
        """Check these, in their order."""
        self._round += 1
        self._go_on(self._round, list(names))

    def _go_on(self, this: int, names: list[str]) -> None:
        def question(book: Book) -> dict[str, list[Finding]]:
            found: dict[str, list[Finding]] = {}
            end = time.monotonic() + _SLICE
            for name in names:
                if this != self._round or (found and time.monotonic() > end):
                    break
                found[name] = [f for f in book.check([name]) if f.record == name]
            return found

        def then(found: dict[str, list[Finding]]) -> None:
            if this != self._round:
                return
            self.findings |= found
            self._changed()
            left = [name for name in names if name not in found]
            if left and found:
                self._go_on(this, left)

        if names:
            self._page.ask("", question, then, urgency=LAST)
