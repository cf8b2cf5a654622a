"""What the tests of screens and commands begin with.

Screens stand on the demo book with a short past (`fake_book`), commands mostly on the little one.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.demo_book import NOON, started
from tests.shop_floor import Clock, log_in
from tui.commands.frame import run
from tui.main import witnessmark

Command = Callable[..., tuple[int, str, str]]


@pytest.fixture
def clock() -> Clock:
    """A clock that a test moves by hand."""
    return Clock(NOON)


@pytest.fixture
def folder(tmp_path: Path, clock: Clock) -> Path:
    """The demo book with a short past."""
    return started(tmp_path / "book", clock)


@pytest.fixture
def little(small_book: Callable[[], Path]) -> Path:
    """The little book, in which every value is known."""
    return small_book()


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """`command(folder, "mira", "list")`: exit status, standard output, standard error."""

    def call(book: Path, login: str, *words: str) -> tuple[int, str, str]:
        log_in(monkeypatch, login)
        status = run(witnessmark, ["--book", str(book), *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return call
