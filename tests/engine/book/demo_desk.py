"""The demo jobs under git, and people in front of them; what a record says is the demo's."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from engine.book import Book

DEMO = Path(__file__).parents[3] / "demo_jobs"
LEAD, SETTER = "itob", "mosk"
CARRIER, RING, FOOT = "terminal-carrier-op10", "wear-ring-op20", "bearing-foot-op10"
SEAT = "seal-carrier-op20"
NOON = datetime.fromisoformat("2026-03-09T12:00:00+01:00")


class Desk:
    """One book, opened by whoever is asked for; a clock that goes on by a minute a look."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.looks = 0
        self.opened: dict[str, Book] = {}
        shutil.copytree(DEMO, folder)
        self.opened[LEAD] = Book.start(folder, login=LEAD, clock=self.clock)

    def clock(self) -> datetime:
        self.looks += 1
        return NOON + timedelta(minutes=self.looks)

    def by(self, login: str) -> Book:
        """The book with a person in front of it."""
        if login not in self.opened:
            self.opened[login] = Book.open(self.folder, login=login, clock=self.clock)
        return self.opened[login]

    @property
    def lead(self) -> Book:
        return self.by(LEAD)

    def ink(self, name: str, reason: str = "measured anew", **values: str) -> tuple[str, ...]:
        """Ink values, `jaws__bite="7.0"`; the messages."""
        typed = {address.replace("__", "."): text for address, text in values.items()}
        self.lead.document(name).pencil.set_all(typed)
        return self.lead.document(name).ink(reason).messages

    def replace(self, path: str, old: str, new: str) -> None:
        """Change a file's text on disk."""
        text = (self.folder / path).read_text()
        assert old in text
        (self.folder / path).write_text(text.replace(old, new))


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path / "book")
    yield made
    for book in made.opened.values():
        book.close()
