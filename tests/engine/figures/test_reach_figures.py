"""Every taught value within its axis' travel, in mm, in inches and in degrees."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import reach
from tests.engine.figures.a_gantry import facts, named


def room(base, at):
    found = [f for f in reach.figures(base) if f.at == at]
    assert len(found) == 1
    return found[0]


def test_every_axis_of_every_station_once():
    found = reach.figures(facts())
    assert len(found) == 4 + 5 + 5 + 4 + 4  # stations, and the lift in between on each leg
    assert len({f.at for f in found}) == len(found)
    assert {f.verdict for f in found} == {"fits"}


@pytest.mark.parametrize(
    ("value", "left", "verdict"),
    [
        (250, 250, "fits"),
        (494, 6, "tight"),
        (495, 5, "tight"),
        (495.1, 4.9, "does not fit"),
        (2, 2, "does not fit"),
        (-3, -3, "does not fit"),
        (510, -10, "does not fit"),
    ],
)
def test_room_to_the_nearer_end_with_the_margin(value, left, verdict):
    found = room(facts({"record:positions.seat.lift": value}), "seat.lift")
    assert found.value == pytest.approx(left)
    assert (found.limit, found.unit, found.verdict) == (5, "mm", verdict)
    assert (found.margin < 0) == (verdict == "does not fit")


@given(st.integers(-600, 1200))
def test_margin_changes_sign_with_the_verdict(tenths):
    found = room(facts({"record:positions.seat.lift": tenths / 2}), "seat.lift")
    inside = 5 <= tenths / 2 <= 495
    assert (found.margin >= 0) == inside == (found.verdict != "does not fit")


def test_turning_is_held_to_its_ends_and_not_to_a_margin_in_mm():
    found = room(facts({"record:positions.seat.wrist": 189}), "seat.wrist")
    assert (found.value, found.limit, found.unit, found.verdict) == (1, 0, "deg", "fits")
    over = room(facts({"record:positions.seat.wrist": -191}), "seat.wrist")
    assert (over.margin, over.verdict) == (-1, "does not fit")
    free = room(facts(drop=["policy:travel_margin"]), "seat.wrist")
    assert free.verdict == "fits"


def test_an_axis_in_inches():
    inch = {
        "cell:axes.lift.unit": "in",
        "cell:axes.lift.least": 0,
        "cell:axes.lift.most": 20,
        "record:positions.seat.lift": 19.8,
    }
    found = room(facts(inch), "seat.lift")
    assert found.value == pytest.approx(0.2 * 25.4)  # 5.08 mm against 5 mm
    assert (found.unit, found.verdict) == ("mm", "tight")


def test_axis_values_are_not_in_the_unit_of_the_record():
    assert room(facts({"record:record.units": "in"}), "seat.lift").value == 150


def test_values_in_between_are_held_too():
    found = room(facts({"cell:legs.seat_return.via.lift": 501}), "seat_return.via.lift")
    assert found.verdict == "does not fit"


@pytest.mark.parametrize(
    "address",
    [
        "record:positions.seat.lift",
        "cell:axes.lift.least",
        "cell:axes.lift.most",
        "policy:travel_margin",
        "cell:axes.lift",
    ],
)
def test_reach_names_what_is_missing(address):
    found = room(facts(drop=[address]), "seat.lift")
    assert found.verdict == "cannot tell"
    if address == "cell:axes.lift":
        assert found.missing == ("cell:axes.lift.least", "cell:axes.lift.most")
    else:
        assert found.missing == (address.removeprefix("record:"),)


def test_everything_missing_at_once_and_no_cell():
    gone = ["record:positions.seat.lift", "cell:axes.lift.most", "policy:travel_margin"]
    found = room(facts(drop=gone), "seat.lift")
    assert set(found.missing) == {one.removeprefix("record:") for one in gone}
    assert named(reach.figures(facts(cell=None)), "room to the end of travel").missing == (
        "record.cell",
    )
