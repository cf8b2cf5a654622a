"""A value that is in pencil is told so by the command line, whatever fails after it."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.book import document
from engine.book.session import Held
from engine.repo.journal import Journal
from schemas.errors import BookError
from tests.mini_book import SEAT
from tests.tui.conftest import Command

ADDRESS = "lot.quantity"


def _unread(*_: object) -> None:
    raise BookError("git could not read")


def test_it_is_said_that_it_is_in_pencil_and_what_cannot_be_shown(
    little: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    append = Journal.append

    def then_unread(self, make):  # type: ignore[no-untyped-def]
        written = append(self, make)
        monkeypatch.setattr(Held, "values", _unread)
        return written

    with monkeypatch.context() as failing:
        failing.setattr(Journal, "append", then_unread)
        status, out, said = command(little, "mira", "set", SEAT, f"{ADDRESS}=50")
    assert (status, out) == (2, "")
    assert f"witnessmark: {ADDRESS} is in pencil, and kept; but" in said
    monkeypatch.undo()
    assert "50" in command(little, "mira", "pencil", SEAT)[1]


def test_an_ink_that_fails_after_it_leaves_no_doubt_about_the_pencil(
    little: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object) -> None:
        monkeypatch.setattr(Held, "values", _unread)
        _unread()

    monkeypatch.setattr(document.inking, "ink", refuses)
    status, _, said = command(little, "mira", "set", SEAT, f"{ADDRESS}=50", "--ink")
    assert status == 2
    assert "what you set is in pencil" in said
    assert "witnessmark: git could not read" in said
