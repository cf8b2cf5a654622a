"""The old book with one of its people in front of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from engine.book import Book
from tests.mini_book import Stepping

CAP, LONG, SHORT = "cap-op10", "sleeve-long-op20", "cap-short-op10"
CAP_ID = "wm-cap0k7"
Opener = Callable[[str], Book]


@pytest.fixture
def old(old_book: Path) -> Iterator[Opener]:
    """`old("noor")`: the old book opened by a person; vera sets, noor leads, pelle audits."""
    clock, opened = Stepping(), []

    def open_as(person: str) -> Book:
        opened.append(Book.open(old_book, login=person, clock=clock))
        return opened[-1]

    yield open_as
    for book in opened:
        book.close()
