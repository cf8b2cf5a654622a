"""A loader set up in space: the taught positions follow from geometry alone.

Blank, part, jaws and pocket are placed in space, every gripper is turned by a
rotation matrix, and the axes are read off. The figures know nothing of it and
must find nothing left over, and derive the same positions.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from engine.figures.groups import agreement
from tests.engine.figures.a_gantry import facts

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
        for s, v in {"fetch": 110, "collect": 146.5, "seat": 150, "return": 108.5}.items()
    }
    found = agreement.expected_positions(facts(inch | {"cell:axes.lift.unit": "in"}))
    assert found["positions.collect.lift"] == pytest.approx(146.5 / 25.4, abs=1e-6)


def test_expected_positions_from_whichever_is_taught():
    only_part = facts(drop=["record:positions.seat.lift", "record:positions.fetch.reach"])
    found = agreement.expected_positions(only_part)
    assert found["positions.seat.lift"] == pytest.approx(150)
    assert found["positions.fetch.reach"] == pytest.approx(40)
    assert found["positions.return.lift"] == pytest.approx(108.5)
    nothing = facts(drop=["record:positions.seat.lift", "record:positions.collect.lift"])
    assert not [
        a for a in agreement.expected_positions(nothing) if a.endswith("t.lift") and "seat" in a
    ]
    assert "positions.collect.lift" not in agreement.expected_positions(nothing)
