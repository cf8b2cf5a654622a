"""Questions about the whole book's past: who, what, on which day, how often, and which way."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from engine.book import Book
from schemas.errors import UsageError
from tests.mini_book import BUSH, SEAT, Stepping

BITE = "jaws.bite"


@pytest.fixture
def told(at, folder: Path) -> Book:  # type: ignore[no-untyped-def]
    """Three inks of two people on two records, one of them without a reason."""
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set(BITE, "7.6")
    mira.document(SEAT).ink("higher jaws")
    ole.document(BUSH).pencil.set("lot.quantity", "40")
    ole.document(BUSH).ink()
    mira.document(SEAT).pencil.set_all({BITE: "7.7", "positions.seat.lift": "148.95"})
    mira.document(SEAT).ink("first piece was high")
    return mira


def test_history_is_newest_first_and_paged(told: Book) -> None:
    first = told.history(per_page=2)
    assert [item.change.address for item in first.items] == [BITE, "positions.seat.lift"]
    assert first.more
    second = told.history(per_page=2, page=2)
    assert [item.change.address for item in second.items] == ["lot.quantity", BITE]
    assert second.items[0].document == BUSH
    everything = list(told.every_change())
    assert everything[:4] == [*first.items, *second.items]
    with pytest.raises(UsageError):
        told.history(page=0)


def test_history_of_one_person_record_or_address(told: Book) -> None:
    since = told.now() - timedelta(days=1)
    of_ole = told.history(person="ole", since=told.history().items[2].when)
    assert [item.change.address for item in of_ole.items] == ["lot.quantity"]
    assert len(told.history(address="positions.*", person="mira", since=since).items) == 1
    assert {item.document for item in told.history(name=SEAT).items} == {SEAT}
    silent = told.history(without_reason=True, address="lot")
    assert [item.change.new for item in silent.items][:1] == [40]


def test_what_stood_on_a_day(told: Book) -> None:
    day = told.now()
    (found,) = told.stood(BITE, day, above=Decimal("7.65"))
    assert (found.record, found.value, found.unit) == (SEAT, Decimal("7.7"), "mm")
    both = told.stood(BITE, day, below=Decimal("8"), above=Decimal("7"))
    assert [item.record for item in both] == [BUSH, SEAT]
    assert told.stood(BITE, day - timedelta(days=3), below=Decimal("8")) == []
    assert told.stood("jaws.id", day, below=Decimal("8")) == []
    with pytest.raises(UsageError):
        told.stood(BITE, day)


def test_the_runs_of_that_day_are_told(told: Book) -> None:
    told.document(SEAT).runs.start(20)
    told.document(SEAT).runs.stop(20, 0)
    (found,) = told.stood(BITE, told.now(), above=Decimal("7.65"))
    assert found.runs == (1,)


def test_what_moved_most_often(told: Book) -> None:
    first, *rest = told.moved()
    assert (first.record, first.address, first.times) == (SEAT, BITE, 2)
    assert (first.net, first.reasons) == (Decimal("0.2"), 2)
    assert {item.address for item in rest} == {"lot.quantity", "positions.seat.lift"}
    assert [item.address for item in told.moved() if not item.reasons] == ["lot.quantity"]


def test_creep_is_a_straight_line_through_the_runs(folder: Path) -> None:
    book = Book.open(folder, login="mira", clock=Stepping())
    for lift in ("148.900", "148.910", "148.920", "148.930"):
        if lift != "148.900":
            book.document(SEAT).pencil.set("positions.seat.lift", lift)
            book.document(SEAT).ink("taught anew")
        book.document(SEAT).runs.start(10)
        book.document(SEAT).runs.stop(10, 0)
    by_address = {item.address: item for item in book.creep(SEAT)}
    lift = by_address["positions.seat.lift"]
    assert (lift.runs, lift.first, lift.last) == (4, Decimal("148.900"), Decimal("148.930"))
    assert lift.slope == pytest.approx(0.01)
    assert lift.spread == pytest.approx(0.03)
    assert lift.scatter == pytest.approx(0, abs=1e-9)
    assert by_address["positions.seat.reach"].slope == 0
    book.close()
