"""What many tests share: a little book, people in front of it, and a stepping clock.

Books to test with, each in one place:

- `mini_book`: a small book made by program, in which every value is known. Most tests stand on it;
  those of the papers ink a whole tray into it, those of merging clone it.
- `demo_book`: the demo jobs as a book, for screens and for figures through the book.
- `engine/checks/conftest.py`: a book in which every rule is silent, taken apart before it begins.
- `fixtures/`: a book as an older program wrote it. It stays as it is for ever.

No books, and not to be merged with them: `engine/figures/mill_case.py` (one record, one cell and
a policy that leave no figure out) and `engine/figures/a_gantry.py` (taught positions that agree),
which are spoilt value by value; and what makes things by chance: `engine/merge/boxes.py`,
`engine/log/random_past.py`, `schemas/any_document.py`.

`shop_floor` has the clocks, the people who open a book, and plain git.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.mini_book import found
from tests.shop_floor import Opener, Stepping, plain_git

settings.register_profile(
    "shop",
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("shop")


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test reads or writes this account's own indexes, nor its log."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
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
    people = Opener(folder, Stepping())
    yield people
    people.close()


OLD_BOOK = Path(__file__).parent / "fixtures" / "book-format-1.bundle"


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    """A book as the program wrote it when records had format 1; see fixtures/ for what it holds."""
    folder = tmp_path / "old-book"
    plain_git(tmp_path, "clone", "-q", str(OLD_BOOK), str(folder))
    plain_git(folder, "remote", "remove", "origin")
    return folder
