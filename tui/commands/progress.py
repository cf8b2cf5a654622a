"""Shows on a terminal that history is being read for the first time, and how far it got.

Only after half a second, only on a terminal, and on standard error: a pipe sees
nothing of it. Stopping with Ctrl-C does no harm; what was read is thrown away. The
terminal is left as it was however this ends: one line is written over, and that is all.
"""

from __future__ import annotations

import time

from tui.commands.output import say_over

PATIENCE = 0.5  # seconds without a word
AGAIN = 0.2  # seconds between two numbers
_HISTORY = "reading the history: {count:,} saves (once; Ctrl-C stops without harm)"


class Reading:
    """Called with the number of saves that were read; with 0 when it is over."""

    def __init__(self, words: str = _HISTORY) -> None:
        """`words` have `{count}` for the number."""
        self._words = words
        self._next = 0.0
        self._width = 0

    def __call__(self, count: int) -> None:
        """Show the number, or take it away."""
        now = time.monotonic()
        if not count:
            if self._width:
                say_over(" " * self._width)
                say_over("")
            self._next, self._width = 0.0, 0
        elif not self._next:
            self._next = now + PATIENCE
        elif now > self._next:
            words = self._words.format(count=count)
            say_over(words)
            self._next, self._width = now + AGAIN, len(words)
