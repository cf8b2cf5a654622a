"""The demo's history, however short it is played, has stamps that run one way."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.book import Book
from tests.demo_book import NOON
from tui.demo import script
from tui.demo.play import Player


def test_a_short_history_never_runs_backwards(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = script.lines()[:30]  # some days of the story, which fall into one
    assert len({day for day, *_ in begun}) > 2
    monkeypatch.setattr(script, "lines", lambda: begun)
    monkeypatch.setattr(script, "LEFT_IN_PENCIL", ())
    folder = tmp_path / "book"
    folder.mkdir()
    Player(folder, NOON, 0.5, lambda _: None).play()
    book = Book.open(folder, login="itob")
    rules = {finding.rule for finding in book.check(["book"])}
    book.close()
    assert "stamps-run-backwards" not in rules
