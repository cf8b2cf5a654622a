"""What changed since a moment, where clocks were set back or ahead: order is the history's."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from engine.book import Book
from engine.log.past import NO_INDEX
from engine.views.wording import clock_words
from schemas.errors import Refused, UsageError
from tests.mini_book import SEAT
from tests.shop_floor import Clock, ink, plain_git

QUANTITY = "lot.quantity"
NOON = datetime.fromisoformat("2026-03-10T12:00:00+01:00")
RULES = {"stamps-run-backwards", "stamp-in-the-future"}


@pytest.fixture(params=["index", "walk"])
def box(
    small_book: Callable[[], Path], request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
):  # type: ignore[no-untyped-def]
    """A book that was begun days before NOON, and a clock that the test moves."""
    if request.param == "walk":
        monkeypatch.setenv(NO_INDEX, "1")
    made = Box(small_book())
    yield made
    made.book.close()


class Box:
    def __init__(self, folder: Path) -> None:
        self.clock = Clock(NOON)
        self.book = Book.open(folder, login="ole", clock=self.clock)

    def at(self, days: float, quantity: int) -> None:
        """Ink while the clock says so many days after NOON."""
        self.clock.at = NOON + timedelta(days=days)
        ink(self.book, SEAT, "as ordered", lot__quantity=str(quantity))

    def since(self, days: float, now: float):  # type: ignore[no-untyped-def]
        """What changed since so many days after NOON, asked when the clock says `now`."""
        self.clock.at = NOON + timedelta(days=now)
        return self.book.document(SEAT).past.since(NOON + timedelta(days=days))

    def rules(self) -> set[str]:
        return {finding.rule for finding in self.book.check()} & RULES


def changed(comparison) -> list[tuple[object, object]]:  # type: ignore[no-untyped-def]
    return [(change.old, change.new) for change in comparison.changes]


def test_one_save_that_is_stamped_three_days_back_hides_nothing(box: Box) -> None:
    box.at(0, 1)
    box.at(3, 2)
    box.at(3.1 - 3, 3)
    found = box.since(1, now=3.2)
    assert changed(found) == [(1, 3)]
    (said,) = clock_words(found.clocks)
    assert "1 stamp runs backwards" in said
    assert found.clocks.last[0].commit == box.book.head
    assert box.rules() == {"stamps-run-backwards"}
    since = NOON + timedelta(days=1)
    assert [i.change.new for i in box.book.history(since=since).items] == [3, 2]
    assert [i.change.new for i in box.book.every_change(since=since)] == [3, 2]
    (moved,) = box.book.moved(since=since)
    assert (moved.times, moved.net) == (2, 2)


def test_a_clock_in_the_future_for_a_while(box: Box) -> None:
    box.at(0, 1)
    box.at(30, 2)  # the clock is a month ahead
    box.at(31, 3)
    box.at(2, 4)  # and right again
    box.at(3, 5)
    found = box.since(2.5, now=4)
    assert changed(found) == [(4, 5)]
    assert found.clocks.ahead
    assert changed(box.since(1, now=4)) == [(1, 5)]
    assert box.rules() == RULES
    assert changed(box.since(2.5, now=40)) == [(1, 5)], "nobody knows any more which was wrong"
    assert box.rules() == {"stamps-run-backwards"}


def test_a_clock_that_was_set_back_for_good(box: Box) -> None:
    for days, quantity in ((0, 1), (5, 2), (6, 3), (2, 4), (2.1, 5)):
        box.at(days, quantity)
    assert changed(box.since(5.5, now=7)) == [(2, 5)]
    assert changed(box.since(4, now=7)) == [(1, 5)]
    assert changed(box.since(6.5, now=7)) == [(3, 5)], "the last two may be later than that"
    assert [i.change.new for i in box.book.history(since=NOON + timedelta(days=6.5)).items] == [
        5, 4,
    ]  # fmt: skip
    marks = [m.name for m in box.book.document(SEAT).past.marks()]
    assert marks == [f"ink-{n}" for n in range(6, 0, -1)]


def test_runs_stand_in_their_order_whatever_clocks_said(box: Box) -> None:
    runs = lambda: box.book.document(SEAT).runs  # noqa: E731
    box.at(5, 1)
    runs().start()
    runs().confirm()
    runs().stop(1, 0)
    box.at(1, 2)  # set back
    runs().start()
    runs().stop(2, 0)
    box.at(1.5, 3)
    assert [run.number for run in runs().all()] == [1, 2]
    compared = box.book.document(SEAT).past.since_run()
    assert (compared.start[:5], changed(compared)) == ("run 2", [(2, 3)])
    trace = box.book.document(SEAT).past.trace(QUANTITY)
    assert [item.runs for item in trace] == [(), (1,), (2,), ()]
    assert [entry.what for entry in runs().log(1)] == ["start", "confirm", "stop"]


def test_stood_goes_by_what_the_head_was_on_that_day(box: Box) -> None:
    box.at(0, 200)
    box.at(5, 300)
    box.at(0.1, 400)  # five days back
    box.clock.at = NOON + timedelta(days=6)
    on = lambda days: [  # noqa: E731
        int(item.value) for item in box.book.stood(QUANTITY, NOON + timedelta(days=days), above=150)
    ]
    assert on(0) == [200]
    assert on(2) == [200]
    assert on(5) == [200], "as it was when the day began"
    assert on(6) == [300]


def test_clocks_of_boxes_that_differ_by_minutes_are_healthy(box: Box) -> None:
    minute = 1 / 1440
    for n, days in enumerate((0, 10 * minute, 2 * minute, 9 * minute, 20 * minute)):
        box.at(days, n + 1)
    found = box.since(-1, now=1)
    assert found.clocks is None
    assert box.rules() == set()
    assert box.book.clocks() is None


def test_the_committers_stamp_counts_and_the_authors_goes_along(box: Box) -> None:
    """A commit that somebody moved onto others keeps its author's stamp, which is no jump."""
    box.at(0, 1)
    box.at(3, 2)
    folder, when = box.book.folder, NOON + timedelta(days=3.1)
    path = folder / f"records/{SEAT}.toml"
    path.write_text(path.read_text().replace("quantity = 2", "quantity = 3"))
    old = (NOON + timedelta(days=0.5)).isoformat()
    plain_git(folder, "commit", "-qam", "moved", f"--date={old}", when=when)
    box.book.refresh()
    found = box.since(1, now=3.2)
    assert changed(found) == [(1, 3)]
    assert found.clocks is None


# a lead's word that it is known


def wrong(box: Box) -> list[str]:
    """Which saves the findings name, by the beginning of their ids."""
    found = [finding for finding in box.book.check() if finding.rule in RULES]
    assert all("`witnessmark acknowledge COMMIT --reason TEXT`" in item.hint for item in found)
    return [finding.message.split()[1] for finding in found]


def test_a_lead_acknowledges_a_wrong_stamp_and_all_before_it(box: Box) -> None:
    for days, quantity in ((3, 1), (1, 2), (4, 3), (2, 4)):
        box.at(days, quantity)
    box.clock.at = NOON + timedelta(days=5)
    last = box.book.head[:10]
    (first,) = set(wrong(box)) - {last}
    done = box.book.acknowledge(last, "the battery of the box")
    assert done.subject == f"wrong stamps are acknowledged, up to {last}"
    assert wrong(box) == []
    assert box.since(2.5, now=6).clocks, "an answer that leans on such stamps still says so"
    with pytest.raises(UsageError, match=f"nothing to acknowledge of {first}"):
        box.book.acknowledge(first, "again")
    box.at(7, 5)
    box.at(6.5, 6)
    box.clock.at = NOON + timedelta(days=8)
    assert wrong(box) == [box.book.head[:10]], "what came later is not known by that"


def test_a_lead_acknowledges_up_to_one_of_them(box: Box) -> None:
    box.at(3, 1)
    box.at(1, 2)
    known = box.book.head
    box.at(4, 3)
    box.at(2, 4)
    left = box.book.head
    box.clock.at = NOON + timedelta(days=5)
    box.book.acknowledge(known[:10], "the battery")
    assert wrong(box) == [left[:10]]


def test_a_stamp_in_the_future_is_acknowledged_with_the_word_that_stands_on_it(box: Box) -> None:
    box.at(400, 1)
    box.clock.at = NOON + timedelta(days=1)
    assert (box.rules(), wrong(box)) == ({"stamp-in-the-future"}, [box.book.head[:10]])
    box.book.acknowledge(box.book.head, "somebody typed the wrong year")
    assert box.rules() == set()
    box.at(2, 2)
    assert box.rules() == set()
    box.at(401, 3)
    box.clock.at = NOON + timedelta(days=3)
    assert box.rules() == {"stamp-in-the-future"}


def test_nobody_but_a_lead_acknowledges_it_and_nothing_by_hand_does(box: Box) -> None:
    box.at(3, 1)
    box.at(1, 2)
    mira = Book.open(box.book.folder, login="mira", clock=box.clock)
    with pytest.raises(Refused, match="acknowledge this"):
        mira.acknowledge(box.book.head, "it is only the clock")
    mira.close()
    with pytest.raises(UsageError, match="nothing to acknowledge"):
        box.book.acknowledge("", "a warning is acknowledged by its name only")
    with pytest.raises(Refused, match="needs a reason"):
        box.book.acknowledge(box.book.head, " ")
    head, folder = box.book.head, box.book.folder / "acknowledged/clock"
    folder.mkdir(parents=True)
    text = f'format = 1\n\n[acknowledged]\ncommit = "{head}"\nat = 2026-03-11T12:00:00+01:00\n'
    (folder / f"{head}.toml").write_text(f'{text}who = "ole"\nreason = "by hand"\n')
    plain_git(box.book.folder, "add", "acknowledged")
    plain_git(box.book.folder, "commit", "-qm", "by hand", "--date", "2026-03-11T12:00:00+01:00")
    assert "stamps-run-backwards" in box.rules()
