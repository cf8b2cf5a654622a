"""Agreement of taught positions: the formulas of the trade, and a loader set up in 3D.

The second half places blank, part, jaws and pocket in space, turns every gripper
by a rotation matrix, and reads off where the axes must stand; the figures know
nothing of it and must find nothing left over.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures import agreement
from engine.figures.expected import turn
from tests.engine.figures.a_gantry import facts, named

JAWS, TRAY = "collect - seat", "return - fetch"


def left(base, at):
    return named(agreement.figures(base), "agreement", at)


# -- the formulas ------------------------------------------------------------


def test_vertical_at_the_jaws_by_hand():
    # (29.8 - 31.5) - (10 - 11) - 1.5 - (-60 + 62) = -4.2
    found = left(facts(), f"{JAWS}: z")
    assert found.value == pytest.approx(0, abs=1e-9)
    assert "expected -4.200" in found.note
    assert found.verdict == "fits"


def test_vertical_at_the_tray_by_hand():
    # (29.8 - 31.5) - (10 - 11) + 1.2 - 0.5 - (-60 + 62) = -2.0
    assert "taught -2.000, expected -2.000" in left(facts(), f"{TRAY}: z").note


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
    now = base.number(address)[0] + change
    spoilt = facts({f"record:{address}": round(now, 6)})
    for at, moved in ((JAWS, jaws), (TRAY, tray)):
        found = left(spoilt, f"{at}: z")
        assert found.value == pytest.approx(abs(moved), abs=1e-9)
        assert (found.margin < 0) == (found.verdict == "does not fit") == (moved != 0)


@pytest.mark.parametrize(
    ("over", "verdict"), [(0.2, "fits"), (-0.29, "tight"), (0.3, "tight"), (0.31, "does not fit")]
)
def test_left_over_against_the_tolerance(over, verdict):
    found = left(facts({"record:positions.collect.lift": round(145.8 + over, 6)}), f"{JAWS}: z")
    assert found.value == pytest.approx(abs(over))
    assert f"{over:+.3f} mm left over (lift)" in found.note
    assert found.verdict == verdict


def test_an_axis_that_counts_downwards():
    down = {
        f"record:positions.{s}.lift": -v
        for s, v in {"fetch": 110, "collect": 145.8, "seat": 150, "return": 108}.items()
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
        inch[f"record:{address}"] = round(facts().number(address)[0] / 25.4, 12)
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


# -- a loader in space -------------------------------------------------------


def about(line, degrees):
    """Right-handed rotation matrix about x, y or z."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    n = "xyz".index(line)
    i, j = (n + 1) % 3, (n + 2) % 3
    m = np.eye(3)
    m[i, i], m[i, j], m[j, i], m[j, j] = c, -s, s, c
    return m


OUT = {"z": (0, 0, 1), "x": (1, 0, 0), "-x": (-1, 0, 0), "y": (0, 1, 0), "-y": (0, -1, 0)}


def set_up(rng, line, out, faces, angles):
    """Positions from geometry alone, and the record and cell that describe it."""

    def near(low, high):
        return round(rng.uniform(low, high), 3)

    hb, hp, bb, bp = near(30, 50), near(20, 45), near(5, 12), near(5, 12)
    tips = {"blank": near(-90, -40), "part": near(-90, -40)}
    offsets = {g: np.array([near(-70, 70) for _ in range(3)]) for g in ("near", "far")}
    release, set_down, pick_up = near(0, 2), near(0, 2), near(0, 2)
    signs = {a: rng.choice([1, -1]) for a in ("carriage", "reach", "lift", "wrist", "bed")}
    bed = {"collect": near(0, 50), "seat": near(0, 50)}
    jaws, pocket = (np.array([near(0, 900), near(0, 400), near(0, 200)]) for _ in range(2))
    o, up = np.array(OUT[out], float), np.array([0.0, 0, 1])
    pushes = "x" if out.endswith("y") else "y"  # a vice closes across the way out
    gap = near(0, 1) * np.array([pushes == "x", pushes == "y", 0], float)

    def wrist_at(tip, gripper, what, station):
        face = np.array(OUT.get(faces[gripper], (0, 0, -1)), float)
        arm = offsets[gripper] + face * -tips[what]
        return tip - about(line, angles[station] * signs["wrist"]) @ arm

    places = {
        "seat": wrist_at(jaws - gap + o * (hb - bb + release), "near", "blank", "seat"),
        "collect": wrist_at(jaws + o * (hp - bp), "far", "part", "collect"),
        "fetch": wrist_at(pocket + up * (hb - bb + pick_up), "near", "blank", "fetch"),
        "return": wrist_at(pocket + up * (hp - bp + set_down), "far", "part", "return"),
    }
    changes = {
        "record:blank.height": hb,
        "record:part.height": hp,
        "record:fingers.blank.bite": bb,
        "record:fingers.part.bite": bp,
        "record:fingers.blank.tip": tips["blank"],
        "record:fingers.part.tip": tips["part"],
        "record:approach.seat.stand_off": release,
        "record:approach.return.stand_off": set_down,
        "record:approach.fetch.stand_off": pick_up,
        "cell:axes.wrist.along": line,
        "record:jaws.kind": "vice",
        "record:jaws.gap": float(gap.max()),
        "record:jaws.pushes": pushes,
        "record:part.shift_x": 0,
        "record:part.shift_y": 0,
        "cell:stations.seat.out": out,
        "cell:stations.collect.out": out,
    }
    for gripper, offset in offsets.items():
        for way, value in zip("xyz", offset, strict=True):
            changes[f"cell:grippers.{gripper}.offset_{way}"] = float(value)
        if faces[gripper] != "z":
            changes[f"cell:grippers.{gripper}.faces"] = faces[gripper]
    for axis, sign in signs.items():
        changes[f"cell:axes.{axis}.sign"] = sign
    for station, place in places.items():
        shift = bed.get(station, 0.0) * signs["bed"]
        for axis, value in zip(
            ("carriage", "reach", "lift"), place + np.array([shift, 0, 0]), strict=True
        ):
            changes[f"record:positions.{station}.{axis}"] = round(float(value) * signs[axis], 9)
        changes[f"record:positions.{station}.wrist"] = angles[station]
        if station in bed:
            changes[f"record:positions.{station}.bed"] = bed[station]
    return changes


CASES = [
    ("upright wrist", "z", "z", {"near": "-z", "far": "-z"}, (0, 180, 0, 180)),
    ("upright wrist, odd angles", "z", "z", {"near": "-z", "far": "-z"}, (10, 155, -35, 201)),
    (
        "two grippers on a tilting wrist, jaws facing left",
        "y",
        "-x",
        {"near": "-z", "far": "x"},
        (-90, 0, 0, 90),
    ),
    ("the same, jaws facing near", "x", "-y", {"near": "-z", "far": "y"}, (90, 0, 0, -90)),
]


@pytest.mark.parametrize(("name", "line", "out", "faces", "at"), CASES, ids=[c[0] for c in CASES])
def test_a_loader_set_up_in_space_leaves_nothing_over(name, line, out, faces, at):
    angles = dict(zip(("seat", "collect", "fetch", "return"), at, strict=True))
    for seed in range(25):
        changes = set_up(random.Random(seed), line, out, faces, angles)
        # only where the grippers face their places is the set-up one that can be
        found = agreement.figures(facts(changes))
        assert len(found) == 6
        assert max(f.value for f in found) < 1e-6, [(f.at, f.note) for f in found]


# -- expected positions ------------------------------------------------------


def test_expected_positions_are_those_that_agree():
    changes = set_up(
        random.Random(7),
        "z",
        "z",
        {"near": "-z", "far": "-z"},
        {"seat": 10, "collect": 155, "fetch": -35, "return": 201},
    )
    found = agreement.expected_positions(facts(changes))
    assert len(found) == 6
    for address, value in found.items():
        assert value == pytest.approx(changes[f"record:{address}"], abs=2e-6)


def test_expected_positions_in_the_unit_of_the_axis():
    inch = {
        f"record:positions.{s}.lift": round(v / 25.4, 12)
        for s, v in {"fetch": 110, "collect": 145.8, "seat": 150, "return": 108}.items()
    }
    found = agreement.expected_positions(facts(inch | {"cell:axes.lift.unit": "in"}))
    assert found["positions.collect.lift"] == pytest.approx(145.8 / 25.4, abs=1e-6)


def test_expected_positions_from_whichever_is_taught():
    only_part = facts(drop=["record:positions.seat.lift", "record:positions.fetch.reach"])
    found = agreement.expected_positions(only_part)
    assert found["positions.seat.lift"] == pytest.approx(150)
    assert found["positions.fetch.reach"] == pytest.approx(40)
    assert found["positions.return.lift"] == pytest.approx(108)
    nothing = facts(drop=["record:positions.seat.lift", "record:positions.collect.lift"])
    assert not [
        a for a in agreement.expected_positions(nothing) if a.endswith("t.lift") and "seat" in a
    ]
    assert "positions.collect.lift" not in agreement.expected_positions(nothing)


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
