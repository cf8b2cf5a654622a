"""An edit that the journal has is in pencil, whatever cannot be read afterwards, and it is said."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial

import pytest

from engine.book.session import Held
from engine.drafts.pencil import Pencil
from engine.repo import journal
from engine.repo.journal import Journal
from schemas.errors import BookError, NotShown, WitnessmarkError
from tests.mini_book import SEAT

ADDRESS = "lot.quantity"
UNREAD = [BookError("git could not read"), OSError(5, "Input/output error")]
UNREAD_IDS = ["git", "disk"]


@pytest.fixture
def then_unread(monkeypatch) -> Callable[[Exception], None]:
    """From the next entry of a journal on, nothing inked can be read."""

    def prepare(error: Exception) -> None:
        def refuses(self):
            raise error

        append = Journal.append

        def then(self, make):
            written = append(self, make)
            monkeypatch.setattr(Held, "values", refuses)
            return written

        monkeypatch.setattr(Journal, "append", then)

    return prepare


def held_by(at):
    draft = at("mira").document(SEAT).pencil.draft()
    return {mark.address: str(mark.value) for mark in draft.marks} if draft else {}


@pytest.mark.parametrize("error", UNREAD, ids=UNREAD_IDS)
def test_a_value_is_told_to_be_in_pencil_with_what_cannot_be_shown(
    at, then_unread, monkeypatch, error
):
    seat = at("mira").document(SEAT)
    then_unread(error)
    with pytest.raises(NotShown) as caught:
        seat.pencil.set(ADDRESS, "50")
    assert caught.value.what.startswith(f"{ADDRESS} is in pencil, and kept; but what stands there")
    assert caught.value.what.endswith(getattr(error, "what", "Input/output error"))
    assert "typed again" in caught.value.hint
    monkeypatch.undo()
    assert held_by(at) == {ADDRESS: "50"}


def test_several_values_are_told_together(at, then_unread):
    seat = at("mira").document(SEAT)
    then_unread(UNREAD[0])
    with pytest.raises(NotShown, match=rf"^{ADDRESS} and 1 more are in pencil, and kept; but"):
        seat.pencil.set_all({ADDRESS: "50", "tools.T04.stick_out": "61.5"})


@pytest.mark.parametrize(
    ("act", "said", "left"),
    [
        ("clear", f"{ADDRESS} is in pencil", {ADDRESS: "None"}),
        ("rub_out", "it is rubbed out", {}),
        ("bring_back", "it is back in pencil", {ADDRESS: "50"}),
    ],
)
def test_so_it_is_with_every_act_of_pencil(at, then_unread, monkeypatch, act, said, left):
    seat = at("mira").document(SEAT)
    seat.pencil.set(ADDRESS, "50")
    if act == "bring_back":
        seat.pencil.rub_out()
    then_unread(UNREAD[0])
    with pytest.raises(NotShown, match=f"^{said}, and kept; but"):
        getattr(seat.pencil, act)(*([ADDRESS] if act == "clear" else []))
    monkeypatch.undo()
    assert held_by(at) == left


def test_what_was_written_is_not_read_back_to_be_accepted(at, monkeypatch):
    written = journal._write_whole

    def then_no_more(handle, data):
        written(handle, data)
        monkeypatch.setattr(os, "pread", partial(refuses_to_read))

    def refuses_to_read(*_):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(journal, "_write_whole", then_no_more)
    draft = at("mira").document(SEAT).pencil.set(ADDRESS, "50")
    assert [mark.address for mark in draft.marks] == [ADDRESS]
    monkeypatch.undo()
    assert held_by(at) == {ADDRESS: "50"}


def test_a_journal_that_cannot_be_opened_any_more_is_no_empty_one(at, monkeypatch):
    seat, state = at("mira").document(SEAT), Pencil.state

    def closed(self):
        answer = state(self)
        self.journal.trouble = "Input/output error"
        return answer

    monkeypatch.setattr(Pencil, "state", closed)
    with pytest.raises(NotShown, match="Input/output error"):
        seat.pencil.set(ADDRESS, "50")


def test_what_is_refused_is_refused(at, then_unread):
    seat = at("mira").document(SEAT)
    then_unread(UNREAD[0])
    with pytest.raises(WitnessmarkError) as caught:
        seat.pencil.set(ADDRESS, "many")
    assert not isinstance(caught.value, NotShown)
