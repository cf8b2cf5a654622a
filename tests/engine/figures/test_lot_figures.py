"""Fills and refills: the arithmetic, and the clock over a night."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import cycle, lot
from engine.figures.groups.lot import Pace, Split, lot_seconds, spans, split
from tests.engine.figures.a_gantry import facts, named

PLAIN = ["record:lot.stages"]
BERLIN = ZoneInfo("Europe/Berlin")
HOURLY = Pace(first=60.0, cycle=300.0, last=340.0, goes_on=False)


def test_a_lot_as_it_is_published():
    # 130 ordered, 36 pockets -> 4 fills, 3 refills, 22 in the last (arithmetic)
    assert split(130, 36) == Split(4, 3, 22)


def test_a_lot_by_hand():
    # 13 x 6 = 78 pockets; 340 ordered: 4 x 78 = 312, and 28 in a fifth fill
    found = lot.figures(facts(drop=PLAIN))
    values = {f.name: f.value for f in found}
    assert (values["fills"], values["refills"], values["last fill"]) == (5, 4, 28)
    assert values["blanks in a fill"] == 78


@given(st.integers(1, 5000), st.integers(1, 400))
def test_fills_hold_exactly_the_lot(blanks, pockets):
    found = split(blanks, pockets)
    assert 1 <= found.last <= pockets
    assert found.refills == found.fills - 1
    assert found.refills * pockets + found.last == blanks


def test_nothing_ordered_needs_no_fill():
    assert split(0, 36) == Split(0, 0, 0)
    found = lot.figures(facts({"record:lot.quantity": 0}, PLAIN))
    assert named(found, "fills").value == 0
    assert named(found, "lot time").value == 0


def test_scrap_samples_and_stage_pieces_are_counted_in():
    # the first of the three stages runs without a blank
    some = facts({"record:lot.scrap_allowed": 4, "record:lot.samples": 6})
    found = named(lot.figures(some), "blanks needed")
    assert found.value == 340 + 4 + 6 + 2
    assert found.note == "ordered + 4 may be lost + 6 samples + 2 at the stages"
    assert named(lot.figures(some), "last fill").value == 352 - 4 * 78


def test_what_is_counted_stands_at_every_count_of_the_lot():
    found = lot.figures(facts({"record:lot.scrap_allowed": 4, "record:lot.samples": 6}))
    words = "ordered + 4 may be lost + 6 samples + 2 at the stages"
    for name in ("blanks needed", "fills", "refills", "last fill"):
        assert named(found, name).note == words
    assert [named(found, name).value for name in ("fills", "refills", "last fill")] == [5, 4, 40]


def test_what_the_record_does_not_name_is_said():
    found = named(lot.figures(facts(drop=PLAIN)), "blanks needed")
    assert found.note == "not named, counted as none: may be lost, samples, at the stages"


def test_a_tray_that_has_no_pocket_left_for_a_blank_tells_no_fills():
    found = lot.figures(facts({"cell:bed.keep_empty": 78}, PLAIN))
    for name in ("fills", "refills", "last fill"):
        assert named(found, name).missing == ("tray.across", "tray.along")
    assert named(found, "blanks in a fill").verdict == "does not fit"


def test_unused_pockets_and_one_left_for_the_last_part():
    some = facts({"record:tray.unused": ["r6c13", "r1c1", "r9c9", "r6c13"]}, PLAIN)
    assert named(lot.figures(some), "blanks in a fill").value == 76  # r9c9 is no pocket of it
    left = facts({"cell:bed.keep_empty": 1}, PLAIN)
    assert named(lot.figures(left), "blanks in a fill").value == 77
    assert named(lot.figures(left), "last fill").value == 340 - 4 * 77


def test_a_tray_with_room_for_none_does_not_fit():
    full = facts({"cell:bed.keep_empty": 78})
    found = named(lot.figures(full), "blanks in a fill")
    assert (found.verdict, found.margin) == ("does not fit", -1)
    assert named(lot.figures(full), "fills").verdict == "cannot tell"
    one = named(lot.figures(facts({"cell:bed.keep_empty": 77})), "blanks in a fill")
    assert (one.verdict, one.margin) == ("fits", 0)


def test_spans_by_hand():
    every = list(spans(Split(2, 1, 2), 3, HOURLY))
    # three blanks: 60 to the first, 2 x 300 to the third, 340 until it is back
    assert [(s.begins, s.empty, s.done) for s in every] == [(0, 660, 1000), (1000, 1360, 1700)]
    assert [s.blanks for s in every] == [3, 2]
    later = list(spans(Split(2, 1, 2), 3, HOURLY, refill=500))
    assert later[1].begins == 1500


def test_a_pocket_left_lets_the_loader_go_on():
    on = Pace(60.0, 300.0, 340.0, goes_on=True)
    every = list(spans(Split(2, 1, 2), 3, on))
    assert [(s.begins, s.empty) for s in every] == [(0, 660), (660, 1260)]
    assert every[-1].done == lot_seconds(Split(2, 1, 2), 3, on) == 60 + 4 * 300 + 340


@given(st.integers(1, 300), st.integers(1, 40), st.floats(1, 500), st.floats(1, 500), st.booleans())
def test_the_whole_lot_is_the_end_of_its_last_fill(blanks, pockets, first, seconds, goes_on):
    pace = Pace(first, seconds, first + seconds, goes_on)
    counts = split(blanks, pockets)
    every = list(spans(counts, pockets, pace))
    assert every[-1].done == pytest.approx(lot_seconds(counts, pockets, pace))
    assert all(one.begins < one.empty < one.done for one in every)


def test_figures_of_time():
    base = facts(drop=PLAIN)
    found = lot.figures(base)
    full = cycle.first(base) + 77 * cycle.cycle(base)
    assert named(found, "tray empty after").value == pytest.approx(full / 3600)
    assert named(found, "unattended").value == pytest.approx((full + cycle.last(base)) / 3600)
    whole = 5 * (cycle.first(base) + cycle.last(base)) + 335 * cycle.cycle(base)
    assert named(found, "lot time").value == pytest.approx(whole / 3600)


def test_a_lot_smaller_than_a_tray_runs_as_long_as_it_is():
    base = facts({"record:lot.quantity": 5}, PLAIN)
    full = cycle.first(base) + 4 * cycle.cycle(base)
    assert named(lot.figures(base), "tray empty after").value == pytest.approx(full / 3600)


# -- the clock ---------------------------------------------------------------

START = datetime(2026, 3, 28, 22, 0, tzinfo=BERLIN)


def test_clock_over_midnight_and_the_change_to_summer_time():
    # 600 s machining in 78 pockets: a fill takes about 13.4 h, over 02:00 on the 29th,
    # when Berlin's clocks go forward by an hour
    base = facts({"record:lot.machining_seconds": 600}, PLAIN)
    every = lot.clock(base, START)
    assert len(every) == 5
    assert every[0].begins == START
    gone = (every[0].done - START.astimezone(UTC)).total_seconds()
    pace = lot.pace_of(base)
    assert gone == pytest.approx(pace.first + 77 * pace.cycle + pace.last, abs=1e-3)
    assert every[0].done.date() > START.date()
    wall = every[0].done.replace(tzinfo=None) - START.replace(tzinfo=None)
    assert wall.total_seconds() - gone == pytest.approx(3600, abs=1e-3)
    assert every[0].done.utcoffset() == timedelta(hours=2)
    assert every[1].begins == every[0].done
    assert [one.blanks for one in every] == [78, 78, 78, 78, 28]


def test_clock_over_the_change_to_winter_time():
    base = facts({"record:lot.machining_seconds": 600}, PLAIN)
    start = datetime(2026, 10, 24, 22, 0, tzinfo=BERLIN)
    one = lot.clock(base, start)[0]
    gone = one.done.astimezone(UTC) - start.astimezone(UTC)
    wall = one.done.replace(tzinfo=None) - start.replace(tzinfo=None)
    assert (gone - wall).total_seconds() == pytest.approx(3600, abs=1e-3)


def test_a_start_within_the_hour_that_comes_twice():
    again = datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN, fold=1)
    once = again.replace(fold=0)
    base = facts(drop=PLAIN)
    first, second = (lot.clock(base, start)[0].done for start in (once, again))
    assert second.astimezone(UTC) - first.astimezone(UTC) == timedelta(hours=1)


def test_clock_with_time_for_refilling_and_at_a_stage():
    base = facts(drop=PLAIN)
    every = lot.clock(base, START, refill=900)
    assert every[1].begins - every[0].done == timedelta(minutes=15)
    assert lot.clock(base, START, percent=30)[0].done > every[0].done


def test_a_start_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        lot.clock(facts(), datetime(2026, 3, 28, 22, 0))


# -- cannot tell -------------------------------------------------------------


@pytest.mark.parametrize(
    "address", ["record:lot.quantity", "record:tray.across", "record:tray.along"]
)
@pytest.mark.parametrize("name", ["fills", "refills", "last fill", "lot time"])
def test_counts_name_what_is_missing(name, address):
    found = named(lot.figures(facts(drop=[address])), name)
    assert found.verdict == "cannot tell"
    assert address.removeprefix("record:") in found.missing


@pytest.mark.parametrize("name", ["tray empty after", "unattended", "lot time"])
def test_times_name_what_is_missing(name):
    found = named(lot.figures(facts(drop=["record:lot.machining_seconds"])), name)
    assert found.missing == ("lot.machining_seconds",)
    assert named(lot.figures(facts(drop=["record:lot.machining_seconds"])), "fills").value == 5


def test_numbers_beyond_reason_are_no_lot():
    assert named(lot.figures(facts({"record:lot.quantity": 10**400})), "fills").missing == (
        "lot.quantity",
    )
    wide = lot.figures(facts({"record:tray.across": 10**9}))
    assert named(wide, "fills").missing == ("tray.across", "tray.along")
