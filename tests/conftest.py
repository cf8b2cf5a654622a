"""What many tests share: a little book, people in front of it, and a stepping clock."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from engine.book import Book
from tests.mini_book import Stepping, found, plain_git

settings.register_profile(
    "shop",
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("shop")

Opener = Callable[..., Book]


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test reads or writes this account's own indexes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture
def clock() -> Stepping:
    """A clock that goes on by a minute at every look."""
    return Stepping()


@pytest.fixture(scope="session")
def _founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return found(tmp_path_factory.mktemp("founded") / "book")


@pytest.fixture
def small_book(_founded: Path, tmp_path: Path) -> Callable[[], Path]:
    """A factory: each call gives a fresh copy of the founded little book."""

    def make(name: str = "book") -> Path:
        folder = tmp_path / name
        shutil.copytree(_founded, folder)
        return folder

    return make


@pytest.fixture
def folder(small_book: Callable[[], Path]) -> Path:
    """A founded little book."""
    return small_book()


@pytest.fixture
def at(folder: Path) -> Iterator[Opener]:
    """`at("mira")`: the little book with a person in front of it; one clock for all."""
    clock = Stepping()
    opened: list[Book] = []

    def open_as(person: str, where: Path | None = None) -> Book:
        book = Book.open(where or folder, login=person, clock=clock)
        opened.append(book)
        return book

    yield open_as
    for book in opened:
        book.close()


OLD_BOOK = Path(__file__).parent / "fixtures" / "book-format-1.bundle"


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    """A book as the program wrote it when records had format 1; see fixtures/ for what it holds."""
    folder = tmp_path / "old-book"
    plain_git(tmp_path, "clone", "-q", str(OLD_BOOK), str(folder))
    plain_git(folder, "remote", "remove", "origin")
    return folder
