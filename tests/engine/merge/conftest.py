"""Boxes that meet: a bare repository and clones of it, each with a person in front of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from engine.book import Book
from tests.shop_floor import Opener, Stepping, plain_git


class Shop:
    """A bare repository with the little book, and boxes by name."""

    def __init__(self, folder: Path, first: Path) -> None:
        self.folder = folder
        self.hub = folder / "hub.git"
        self.people = Opener(folder, Stepping())
        plain_git(folder, "clone", "-q", "--bare", str(first), str(self.hub))

    def box(self, name: str, person: str) -> Book:
        """A clone with a person in front of it; the same box anew if it is there already."""
        if not (self.folder / name).exists():
            plain_git(self.folder, "clone", "-q", str(self.hub), name)
        return self.people(person, self.folder / name)

    def hub_tip(self) -> str:
        """The commit at the meeting point."""
        return plain_git(self.hub, "rev-parse", "main").strip()


@pytest.fixture
def shop(small_book: Callable[[], Path], tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path, small_book("first"))
    yield made
    made.people.close()


@pytest.fixture
def two(shop: Shop) -> tuple[Book, Book]:
    """Mira's box and Ole's."""
    return shop.box("one", "mira"), shop.box("two", "ole")
