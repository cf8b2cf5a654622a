"""What changes hands at a station, and by which gripper: a table worked by hand."""

from __future__ import annotations

import pytest

from engine.figures.cell import gripper_at, stations_that
from engine.figures.inputs import Missing
from engine.figures.mechanics.transfer import piece_at
from tests.engine.figures.mill_case import case


@pytest.mark.parametrize(
    ("place", "does", "carries", "piece"),
    [
        ("jaws", "give", "both", "blank"),
        ("jaws", "take", "both", "part"),
        ("tray", "take", "both", "blank"),
        ("tray", "give", "both", "part"),
        ("chute", "give", "both", "part"),
        ("turn-over", "give", "blank", "blank"),
        ("turn-over", "take", "blank", "blank"),
        ("turn-over", "give", "part", "part"),
        ("turn-over", "take", "both", "part"),
    ],
)
def test_the_piece_at_a_station(place: str, does: str, carries: str, piece: str) -> None:
    station = {"place": place, "does": does}
    changes = {f"cell:stations.seat.{key}": value for key, value in station.items()}
    assert piece_at(case({**changes, "cell:grippers.a.carries": carries}), "seat") == piece


def test_a_cell_with_one_gripper_need_not_name_it_and_one_with_two_must() -> None:
    unnamed = "cell:stations.seat.gripper"
    with pytest.raises(Missing, match=r"stations\.seat\.gripper"):
        gripper_at(case(without=[unnamed]), "seat")
    assert gripper_at(case(without=[unnamed, "cell:grippers.b"]), "seat") == "a"
    with pytest.raises(Missing, match=r"grippers\.c"):
        gripper_at(case({unnamed: "c"}), "seat")


def test_stations_by_what_they_do_stand_in_the_order_of_the_round() -> None:
    again = {"place": "jaws", "does": "give", "gripper": "a", "axes": ["lift"]}
    changes = {f"cell:stations.again.{key}": value for key, value in again.items()}
    order = ["fetch", "again", "collect", "seat", "drop"]
    facts = case({**changes, "cell:cell.round": order})
    assert stations_that(facts, "jaws", "give") == ["again", "seat"]
    assert stations_that(facts, "jaws", "take") == ["collect"]
    assert stations_that(facts, "tray", "take") == ["fetch"]
    assert stations_that(facts, "chute", "give") == []
