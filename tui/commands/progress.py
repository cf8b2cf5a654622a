"""Shows on a terminal that history is being read for the first time, and how far it got.

Only after half a second, only on a terminal, and on standard error: a pipe sees
nothing of it. Stopping with Ctrl-C does no harm; what was read is thrown away.
"""

from __future__ import annotations

import sys
import time
from typing import Any

PATIENCE = 0.5  # seconds without a word
_HISTORY = "reading the history: {task.completed:,} saves (once; Ctrl-C stops without harm)"


class Reading:
    """Called with the number of saves that were read; with 0 when it is over."""

    def __init__(self, words: str = _HISTORY) -> None:
        """`words` have `{task.completed}` for the number."""
        self._words = words
        self._began = 0.0
        self._shown: Any = None
        self._task: Any = None

    def __call__(self, count: int) -> None:
        """Show the number, or take it away."""
        if not count:
            if self._shown is not None:
                self._shown.stop()
            self._began, self._shown = 0.0, None
            return
        self._began = self._began or time.monotonic()
        if self._shown is None and time.monotonic() - self._began > PATIENCE:
            self._show()
        if self._shown is not None:
            self._shown.update(self._task, completed=count)

    def _show(self) -> None:
        from rich.console import Console
        from rich.progress import Progress, SpinnerColumn, TextColumn

        columns = (SpinnerColumn("line"), TextColumn(self._words))
        self._shown = Progress(*columns, console=Console(file=sys.stderr), transient=True)
        self._task = self._shown.add_task("", total=None)
        self._shown.start()
