"""Starting the screen. Textual is imported only here, and the engine after the first picture."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from tui.safe import terminal_can

if TYPE_CHECKING:
    from engine.book import Book


def can_show() -> bool:
    """Whether there is a terminal for a screen, and somebody at it."""
    return terminal_can(os.environ, sys.stdout) and sys.stdin.isatty()


def start_screen(folder: Path, record: str, person: str) -> int:
    """Open the screen on a book; the exit code."""
    from tui.app import run

    return run(_opener(folder), record=record, as_person=person)


def _opener(folder: Path) -> Callable[[str], Book]:
    """Opens the book for a chosen person."""

    def open_book(chosen: str) -> Book:
        from engine.book import Book

        return Book.open(folder, as_person=chosen)

    return open_book
