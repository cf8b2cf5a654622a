"""The rise before anything goes sideways, at each place and in each order of moves."""

from __future__ import annotations

import pytest

from engine.figures.groups import clear
from tests.engine.figures.a_gantry import facts, named
from tests.engine.figures.mill_case import case


def rise(base, leg):
    return named(clear.figures(base), "rise before sideways", leg)


@pytest.mark.parametrize(
    ("leg", "value", "limit"),
    [
        ("fetch_collect", 290, 6 + 10),  # a blank out of its pocket, 6 deep
        ("collect_seat", 253.5, 7.5 + 10),  # a part out of the jaws, 7.5 of bite
        ("seat_return", 250, 11 + 10),  # fingers off a blank, 11 of bite
        ("return_fetch", 291.5, 10 + 10),  # fingers off a part, 10 of bite
    ],
)
def test_what_has_to_come_free(leg, value, limit):
    found = rise(facts(), leg)
    assert (found.value, found.limit) == (pytest.approx(value), limit)
    assert found.verdict == "fits"


@pytest.mark.parametrize(
    ("via", "verdict"),
    [(163.9, "does not fit"), (164, "tight"), (166.7, "fits"), (100, "does not fit")],
)
def test_margin_changes_sign_with_the_verdict(via, verdict):
    # the part stands at 146.5; 17.5 more are needed
    found = rise(facts({"cell:legs.collect_seat.via.lift": via}), "collect_seat")
    assert found.verdict == verdict
    assert found.margin == pytest.approx(via - 146.5 - 17.5)
    assert (found.margin < 0) == (verdict == "does not fit")


@pytest.mark.parametrize(
    "moves",
    [
        ["carriage+reach", "lift", "wrist"],
        ["lift+carriage", "reach", "wrist", "lift"],
        ["wrist", "lift", "carriage+reach", "lift"],
    ],
)
def test_a_sideways_axis_in_the_first_move_is_no_rise(moves):
    found = rise(facts({"cell:legs.fetch_collect.moves": moves}), "fetch_collect")
    assert (found.value, found.verdict) == (0, "does not fit")


def test_an_axis_that_does_not_move_is_not_sideways():
    still = facts(
        {
            "record:positions.collect.wrist": 0,
            "cell:legs.fetch_collect.moves": ["lift+wrist", "carriage+reach", "lift"],
        }
    )
    assert rise(still, "fetch_collect").value == pytest.approx(290)


def over_two_legs(moves, **more):
    """The way to the chuck over a station above the tray."""
    return facts(
        {
            "cell:cell.round": ["fetch", "above", "collect", "seat", "return"],
            "cell:stations.above": {"place": "tray", "does": "pass", "axes": ["lift"]},
            "record:positions.above.lift": 125,
            "cell:legs.fetch_above": {"start": "fetch", "end": "above", "moves": ["lift"]},
            "cell:legs.above_collect": {
                "start": "above",
                "end": "collect",
                "moves": moves,
                **more,
            },
        }
    )


def test_a_rise_in_two_moves_and_over_two_legs():
    above = over_two_legs(
        ["lift", "carriage+reach", "wrist", "lift"], via={"lift": 400}, path="free"
    )
    assert rise(above, "fetch_above").value == pytest.approx(290)
    only = over_two_legs(["carriage+reach", "wrist", "lift"])
    found = rise(only, "fetch_above")
    assert (found.value, found.verdict) == (15, "does not fit")
    assert not [f for f in clear.figures(only) if f.at == "above_collect"]


def test_a_lift_that_counts_downwards():
    down = {
        f"record:positions.{s}.lift": -v
        for s, v in {"fetch": 110, "collect": 146.5, "seat": 150, "return": 108.5}.items()
    }
    down |= {
        f"cell:legs.{leg}.via.lift": -400
        for leg in ("fetch_collect", "collect_seat", "seat_return", "return_fetch")
    }
    assert rise(facts(down | {"cell:axes.lift.sign": -1}), "seat_return").value == 250


def test_jaws_that_open_sideways():
    # the way out runs along -x; the carriage goes back first, then everything else
    level = {
        "cell:stations.collect.out": "-x",
        "cell:legs.collect_seat.moves": ["carriage", "lift", "wrist", "carriage", "lift"],
        "cell:legs.collect_seat.via.carriage": 1400,
    }
    assert rise(facts(level), "collect_seat").value == pytest.approx(100)
    wrong = level | {"cell:legs.collect_seat.via.carriage": 1600}
    assert rise(facts(wrong), "collect_seat").value == pytest.approx(-100)


def test_jaws_that_back_away_give_room_too():
    backs = {
        "cell:axes.bed.along": "z",
        "record:positions.seat.bed": 280,
        "cell:legs.collect_seat.moves": ["bed", "lift", "wrist", "lift"],
    }
    # 30 of the bed going down, and 253.5 of the lift
    assert rise(facts(backs), "collect_seat").value == pytest.approx(283.5)


def test_fingers_off_a_part_at_a_chute():
    chute = facts({"cell:stations.return.place": "chute"})
    assert rise(chute, "return_fetch").limit == 20
    turn = facts(
        {
            "cell:stations.return.place": "turn-over",
            "cell:stations.return.does": "take",
            "cell:stations.return.depth": 14,
        }
    )
    assert rise(turn, "return_fetch").limit == 24


@pytest.mark.parametrize(
    ("leg", "address"),
    [
        ("fetch_collect", "record:tray.pocket_depth"),
        ("collect_seat", "record:jaws.bite"),
        ("seat_return", "record:fingers.blank.bite"),
        ("return_fetch", "record:fingers.part.bite"),
        ("seat_return", "policy:clear_margin"),
        ("seat_return", "record:positions.seat.lift"),
        ("seat_return", "cell:legs.seat_return.moves"),
        ("seat_return", "cell:axes.lift.along"),
        ("seat_return", "cell:axes.lift.sign"),
        ("seat_return", "cell:legs.seat_return.via.lift"),
    ],
)
def test_clear_names_what_is_missing(leg, address):
    found = rise(facts(drop=[address]), leg)
    assert found.verdict == "cannot tell"
    assert found.missing == (address.removeprefix("record:"),)


def test_no_cell_and_no_depth():
    assert clear.figures(facts(cell=None))[0].missing == ("record.cell",)
    turn = facts({"cell:stations.return.place": "turn-over", "cell:stations.return.does": "take"})
    assert rise(turn, "return_fetch").missing == ("cell:stations.return.depth",)


@pytest.mark.parametrize(("on", "wanted"), [(False, 30), (True, 70)])
def test_the_rise_goes_on_through_a_place_where_nothing_changes_hands(on, wanted):
    # by hand: 200 up to 230, and where a leg goes on from there, up to 270
    rest = {"place": "wait", "does": "wait", "axes": ["lift"]}
    legs = {"up": ("fetch", "rest"), "further": ("rest", "top")}
    changes = {"positions.rest.lift": 230, "positions.top.lift": 270}
    for name in ("rest", "top"):
        changes |= {f"cell:stations.{name}.{key}": value for key, value in rest.items()}
    for name, (start, end) in list(legs.items())[: 2 if on else 1]:
        leg = {"start": start, "end": end, "path": "free", "moves": ["lift"]}
        changes |= {f"cell:legs.{name}.{key}": value for key, value in leg.items()}
    assert clear.rise(case(changes), "up") == pytest.approx(wanted)
