"""Agreement of taught positions: the formulas of the trade, input by input."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.geometry.expected import turn
from engine.figures.groups import agreement
from tests.engine.figures.a_gantry import facts, named

JAWS, TRAY = "collect - seat", "return - fetch"


def left(base, at):
    return named(agreement.figures(base), "agreement", at)


# -- the formulas ------------------------------------------------------------


def test_vertical_at_the_jaws_by_hand():
    # (29.8 - 31.5) - (10 - 11) - 0.8 - (-60 + 62) = -3.5
    found = left(facts(), f"{JAWS}: z")
    assert found.value == pytest.approx(0, abs=1e-9)
    assert "expected -3.500" in found.note
    assert found.verdict == "fits"


def test_vertical_at_the_tray_by_hand():
    # (29.8 - 31.5) - (10 - 11) + 1.7 - 0.5 - (-60 + 62) = -1.5
    assert "taught -1.500, expected -1.500" in left(facts(), f"{TRAY}: z").note


@pytest.mark.parametrize(
    ("address", "change", "jaws", "tray"),
    [
        ("part.height", 0.4, 0.4, 0.4),
        ("blank.height", 0.4, -0.4, -0.4),
        ("fingers.part.bite", 0.4, -0.4, -0.4),
        ("fingers.blank.bite", 0.4, 0.4, 0.4),
        ("fingers.part.tip", 0.4, -0.4, -0.4),
        ("fingers.blank.tip", 0.4, 0.4, 0.4),
        ("approach.seat.stand_off", 0.4, -0.4, 0),
        ("approach.return.stand_off", 0.4, 0, 0.4),
        ("approach.fetch.stand_off", 0.4, 0, -0.4),
    ],
)
def test_each_input_moves_what_is_expected(address, change, jaws, tray):
    base = facts()
    now = base.number(address) + change
    spoilt = facts({f"record:{address}": round(now, 6)})
    for at, moved in ((JAWS, jaws), (TRAY, tray)):
        found = left(spoilt, f"{at}: z")
        assert found.value == pytest.approx(abs(moved), abs=1e-9)
        assert (found.margin < 0) == (found.verdict == "does not fit") == (moved != 0)


@pytest.mark.parametrize(
    ("over", "verdict"), [(0.2, "fits"), (-0.29, "tight"), (0.3, "tight"), (0.31, "does not fit")]
)
def test_left_over_against_the_tolerance(over, verdict):
    found = left(facts({"record:positions.collect.lift": round(146.5 + over, 6)}), f"{JAWS}: z")
    assert found.value == pytest.approx(abs(over))
    assert f"{over:+.3f} mm left over (lift)" in found.note
    assert found.verdict == verdict


def test_an_axis_that_no_visit_names_does_not_count():
    table = {"of": "machine", "kind": "linear", "unit": "mm", "along": "x", "sign": 1}
    for at in (f"{JAWS}: x", f"{TRAY}: x"):
        assert left(facts({"cell:axes.table": table}), at) == left(facts(), at)


@pytest.mark.parametrize("shape", ["round", "tube", "bar", "hexagon", "block"])
@pytest.mark.parametrize("kind", ["chuck", "collet", "vice"])
def test_round_bodies_in_a_chuck_or_collet_have_no_shift(kind, shape):
    jaws = {"record:jaws.kind": kind, "record:jaws.gap": 0, "record:jaws.pushes": "x"}
    both = {"record:blank.shape": shape, "record:part.shape": shape}
    found = left(facts({**jaws, **both}), f"{JAWS}: x")
    even = kind != "vice" and shape != "block"
    assert ("part.shift_x" in found.missing) == (not even)


def test_an_axis_that_counts_downwards():
    down = {
        f"record:positions.{s}.lift": -v
        for s, v in {"fetch": 110, "collect": 146.5, "seat": 150, "return": 108.5}.items()
    }
    down |= {"cell:axes.lift.sign": -1}
    assert left(facts(down), f"{JAWS}: z").value == pytest.approx(0, abs=1e-9)


def test_a_record_in_inches():
    inch = {"record:record.units": "in"}
    for address in (
        "part.height",
        "blank.height",
        "fingers.part.bite",
        "fingers.blank.bite",
        "fingers.part.tip",
        "fingers.blank.tip",
        "approach.seat.stand_off",
    ):
        inch[f"record:{address}"] = round(facts().number(address) / 25.4, 12)
    assert left(facts(inch), f"{JAWS}: z").value == pytest.approx(0, abs=1e-9)


# -- in plane ----------------------------------------------------------------


def test_turned_grippers_come_to_the_same_place():
    found = left(facts(), f"{JAWS}: x")
    assert found.value == pytest.approx(0, abs=1e-9)
    unturned = left(facts({"record:positions.collect.wrist": 0}), f"{JAWS}: x")
    assert unturned.value == pytest.approx(120)  # 60 one way, 60 the other


def test_a_wrist_that_counts_the_other_way():
    quarter = {"record:positions.collect.wrist": 90, "record:positions.seat.wrist": 0}
    # seat (60, 0) - collect (-60, 0) turned by +-90, (0, -+60)
    for sign, y in ((1, 60), (-1, -60)):
        found = left(facts(quarter | {"cell:axes.wrist.sign": sign}), f"{JAWS}: y")
        assert f"expected {y:.3f}" in found.note
        x = left(facts(quarter | {"cell:axes.wrist.sign": sign}), f"{JAWS}: x")
        assert "expected 60.000" in x.note


def test_loader_minus_machine():
    moved = {"record:positions.collect.bed": 320, "record:positions.collect.carriage": 1510}
    assert left(facts(moved), f"{JAWS}: x").value == pytest.approx(0, abs=1e-9)
    against = {"record:positions.collect.bed": 320, "record:positions.collect.carriage": 1490}
    assert left(facts(against | {"cell:axes.bed.sign": -1}), f"{JAWS}: x").value == pytest.approx(
        0, abs=1e-9
    )
    alone = left(facts({"record:positions.collect.bed": 320}), f"{JAWS}: x")
    assert "-10.000 mm left over" in alone.note


@pytest.mark.parametrize(
    ("pushes", "at", "gap"),
    [
        ("x", "x", 0.8),
        ("-x", "x", -0.8),
        ("y", "y", 0.8),
        ("-y", "y", -0.8),
        ("y", "x", 0.0),
    ],
)
def test_the_gap_of_a_vice(pushes, at, gap):
    vice = {
        "record:jaws.kind": "vice",
        "record:jaws.gap": 0.8,
        "record:jaws.pushes": pushes,
        "record:part.shift_x": 0,
        "record:part.shift_y": 0,
    }
    assert f"expected {gap:.3f}" in left(facts(vice), f"{JAWS}: {at}").note
    assert "expected 0.000" in left(facts(vice), f"{TRAY}: {at}").note


def test_a_shift_of_the_middle_is_turned_with_the_part():
    shifted = {
        "record:part.shift_x": 2,
        "record:part.shift_y": 1,
        "record:positions.return.wrist": 90,
    }
    base = facts(shifted)
    assert "expected 2.000" in left(base, f"{JAWS}: x").note
    assert "expected 1.000" in left(base, f"{JAWS}: y").note
    # the wrist goes from 180 at the jaws to 90 at the tray: (2, 1) turned by -90 is (1, -2)
    # and the grippers add (60, 0) - (0, -60)
    assert "expected 61.000" in left(base, f"{TRAY}: x").note
    assert "expected 58.000" in left(base, f"{TRAY}: y").note


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-720, 720))
def test_turning_keeps_lengths_and_turns_back(x, y, degrees):
    there = turn((x, y), degrees)
    assert math.hypot(*there) == pytest.approx(math.hypot(x, y), abs=1e-9)
    assert turn(there, -degrees) == pytest.approx((x, y), abs=1e-9)


def test_one_gripper_for_both_needs_no_offsets():
    drop = [f"cell:grippers.{g}.offset_{w}" for g in ("near", "far") for w in "xyz"]
    one = {f"cell:stations.{s}.gripper": "near" for s in ("collect", "seat", "fetch", "return")}
    one |= {"record:positions.collect.wrist": 0, "record:positions.return.wrist": 0}
    base = facts(one | {"cell:grippers.near.carries": "both"}, drop)
    for at in (f"{JAWS}: x", f"{JAWS}: y", f"{JAWS}: z", f"{TRAY}: z"):
        assert left(base, at).verdict == "fits"


# -- arms --------------------------------------------------------------------


def an_arm(changes=None):
    swing = {
        "cell:axes.carriage": {"of": "loader", "kind": "rotary", "unit": "deg", "radius": 800},
        "cell:axes.reach": {"of": "loader", "kind": "linear", "unit": "mm"},
    }
    swing |= {f"record:positions.{s}.carriage": 87.42 for s in ("collect", "seat")}
    swing |= {f"record:positions.{s}.carriage": 12 for s in ("fetch", "return")}
    return facts(swing | (changes or {}))


def test_an_arm_with_nothing_to_make_up_for_stands_still():
    found = left(an_arm({"record:positions.collect.carriage": 87.43}), f"{JAWS}: carriage")
    assert found.value == pytest.approx(math.radians(0.01) * 800)
    assert found.verdict == "fits"
    far = left(an_arm({"record:positions.collect.reach": 200.5}), f"{JAWS}: reach")
    assert (far.value, far.verdict) == (pytest.approx(0.5), "does not fit")


def test_an_arm_that_has_to_make_up_for_something_cannot_be_told():
    found = left(an_arm({"record:positions.collect.wrist": 0}), f"{JAWS}: carriage")
    assert found.verdict == "cannot tell"
    assert found.missing == ("cell:axes.carriage.along",)


# -- cannot tell -------------------------------------------------------------

VERTICAL = [
    "record:blank.height",
    "record:part.height",
    "record:fingers.blank.bite",
    "record:fingers.part.bite",
    "record:fingers.blank.tip",
    "record:fingers.part.tip",
    "record:approach.seat.stand_off",
    "record:positions.seat.lift",
    "record:positions.collect.lift",
    "cell:grippers.near.offset_z",
    "cell:grippers.far.offset_z",
    "cell:axes.lift.sign",
    "cell:stations.seat.gripper",
    "policy:agreement_tolerance",
]
LEVEL = [
    "record:jaws.kind",
    "record:positions.seat.carriage",
    "record:positions.seat.bed",
    "record:positions.seat.wrist",
    "cell:grippers.near.offset_x",
    "cell:grippers.far.offset_y",
    "cell:axes.wrist.sign",
    "cell:axes.bed.sign",
]


@pytest.mark.parametrize(
    ("at", "address"),
    [
        *((f"{JAWS}: z", one) for one in VERTICAL),
        *((f"{JAWS}: x", one) for one in LEVEL),
        (f"{TRAY}: z", "record:approach.return.stand_off"),
        (f"{TRAY}: z", "record:approach.fetch.stand_off"),
    ],
)
def test_agreement_names_what_is_missing(at, address):
    found = left(facts(drop=[address]), at)
    assert found.verdict == "cannot tell"
    assert address.removeprefix("record:") in found.missing


@pytest.mark.parametrize(
    "address",
    ["record:jaws.gap", "record:jaws.pushes", "record:part.shift_x", "record:part.shift_y"],
)
def test_a_vice_names_what_is_missing(address):
    vice = {
        "record:jaws.kind": "vice",
        "record:jaws.gap": 0.5,
        "record:jaws.pushes": "x",
        "record:part.shift_x": 0,
        "record:part.shift_y": 0,
    }
    found = left(facts(vice, [address]), f"{JAWS}: x")
    assert found.missing == (address.removeprefix("record:"),)


def test_no_cell_and_no_second_visit():
    assert agreement.figures(facts(cell=None))[0].missing == ("record.cell",)
    assert len(agreement.figures(facts(drop=["cell:stations.collect"]))) == 3
