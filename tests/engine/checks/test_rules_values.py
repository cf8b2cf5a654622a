"""Values beside the cell, other records, people and pencil: the finer points."""

from __future__ import annotations

import copy
from decimal import Decimal

import pytest

from .conftest import ONE, TWO, Mini


def rules(mini: Mini) -> list[str]:
    return [finding.rule for finding in mini.findings()]


def test_the_ends_of_travel_are_inside(mini: Mini) -> None:
    mini.one["positions"]["seat"].update(lift=Decimal("500.000"), reach=Decimal("0.0"))
    assert mini.findings() == []


def test_an_axis_without_ends_has_no_outside(mini: Mini) -> None:
    del mini.cell["axes"]["lift"]["most"]
    mini.one["positions"]["seat"]["lift"] = 9999
    assert mini.findings() == []


def test_below_and_above(mini: Mini) -> None:
    mini.one["positions"]["seat"].update(lift=501, reach=-1)
    assert [(f.address, f.message) for f in mini.findings()] == [
        ("positions.seat.reach", "-1 mm is below the travel of reach, which begins at 0"),
        ("positions.seat.lift", "501 mm is above the travel of lift, which ends at 500"),
    ]


def test_an_axis_of_the_cell_that_the_station_does_not_have(mini: Mini) -> None:
    mini.cell["stations"]["fetch"]["axes"] = ["lift"]
    found = mini.findings(ONE)
    assert [(f.rule, f.address) for f in found] == [("unknown-axis", "positions.fetch.reach")]


def test_a_record_with_nothing_taught_says_it_once(mini: Mini) -> None:
    mini.one["positions"] = {}
    assert [(f.rule, f.address) for f in mini.findings()] == [("position-missing", "positions")]


def test_a_station_without_axes_needs_no_position(mini: Mini) -> None:
    mini.cell["stations"]["wait"] = {"place": "wait", "does": "wait", "axes": []}
    assert mini.findings() == []


def test_stages_above_full_speed_and_of_nothing(mini: Mini) -> None:
    mini.one["lot"]["stages"] = [0, 50, 101]
    assert rules(mini) == ["stages"]
    assert "0, 50, 101" in mini.findings()[0].message


@pytest.mark.parametrize(
    ("stages", "wrong"),
    [
        ([0, 50, 100], True),
        ([-1, 50, 100], True),
        ([1, 50, 101], True),
        ([1, 50, 100], False),
        ([50], False),
        ([1, 50, 50], True),
        ([50, 1], True),
    ],
)
def test_each_stage_is_above_0_at_most_100_and_faster_than_the_last(
    mini: Mini, stages: list[int], wrong: bool
) -> None:
    mini.one["lot"]["stages"] = stages
    assert rules(mini) == ["stages"] * wrong


def test_a_new_record_is_asked_for_what_it_lacks_and_has_no_error(mini: Mini) -> None:
    mini.book.new("lid-op10", part="Lid", cell="north", units="mm")
    found = mini.findings()
    assert {f.record for f in found} == {"lid-op10"}
    assert [f.rule for f in found] == ["no-program", "position-missing", "no-photo"]


def test_two_records_on_one_program(mini: Mini) -> None:
    """Both are told; alike positions, another cell or a retired record are no fault."""
    mini.trees[f"records/{TWO}.toml"]["program"] = copy.deepcopy(mini.one["program"])
    mini.files.pop("programs/cup_2.nc")
    found = mini.findings()
    assert [(f.rule, f.record, f.address) for f in found] == [
        ("other-positions", ONE, "positions.seat"),
        ("other-positions", TWO, "positions.seat"),
    ]
    assert TWO in found[0].message
    book = mini.book
    book.document(TWO).pencil.set("positions.seat.lift", "89")
    book.document(TWO).ink("one set-up")
    assert mini.findings() == []  # 89 and 89.000 are one value
    book.document(TWO).pencil.set("positions.seat.lift", "90")
    book.document(TWO).ink("taught again")
    book.document(TWO).retire("not needed")
    assert mini.findings() == []


def test_another_cell_has_its_own_positions(mini: Mini) -> None:
    mini.trees["cells/south.toml"] = copy.deepcopy(mini.cell)
    two = mini.trees[f"records/{TWO}.toml"]
    two["program"] = copy.deepcopy(mini.one["program"])
    two["record"]["cell"] = "south"
    mini.files.pop("programs/cup_2.nc")
    assert mini.findings() == []


def test_a_leg_between_unknown_stations(mini: Mini) -> None:
    mini.cell["legs"]["out"].update(start="here", end="there")
    assert [f.address for f in mini.findings()] == ["legs.out.start", "legs.out.end"]


# people and pencil


def test_a_login_in_two_hands_is_a_note_only(mini: Mini) -> None:
    mini.people["bo"]["logins"] = ["bfer", "bfer", "alin"]
    mini.login = False
    assert [(f.level, f.rule) for f in mini.findings()] == [("note", "shared-login")]


def test_pencil_is_not_stale_at_once_and_its_age_is_told(mini: Mini) -> None:
    bo = mini.as_bo()
    bo.document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=3)
    assert mini.findings() == []
    mini.go(days=2)
    (found,) = mini.findings()
    assert found.message == "Bo Ferrer has had 1 value in pencil for 5 days"
    bo.document(ONE).pencil.rub_out()
    assert mini.findings() == []


def test_without_a_policy_no_pencil_is_stale(mini: Mini) -> None:
    mini.trees["book.toml"]["policy"] = {"travel_margin": 5}
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=300)
    assert mini.findings() == []


def test_pencil_of_somebody_whom_nobody_knows_any_more(mini: Mini) -> None:
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.edit("people.toml", "people.bo", "people.bob")
    mini.by_hand()
    (found,) = mini.findings()
    assert (found.rule, found.record) == ("pencil-left-behind", ONE)
    assert "bo, who is not in people.toml" in found.message


def test_pencil_that_was_kept_is_not_contested(mini: Mini) -> None:
    bo = mini.as_bo()
    bo.document(ONE).pencil.set("jaws.bite", "8.0")
    mini.book.document(ONE).pencil.set("positions.seat.lift", "90.000")
    mini.book.document(ONE).ink("taught again")
    (found,) = mini.findings()
    assert found.rule == "contested-pencil"
    assert "Ana Lind" in found.message
    bo.document(ONE).pencil.keep()
    assert mini.findings() == []
