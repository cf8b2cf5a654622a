"""Jaw force: pressure, and what turning takes or adds on a chuck."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import clamp
from engine.figures.groups.clamp import centrifugal
from tests.engine.figures.mill_case import by_name, case, in_inches, one

LEAST, MOST = "jaw force, least", "jaw force, most"
TURNING = 0.6 * 0.05 * (2 * pi * 3000 / 60) ** 2


def test_centrifugal_force() -> None:
    # worked: 1 kg at 100 mm and 3000/min -> 0.1·(100·pi)² = 9869.6 N
    assert centrifugal(1, 100, 3000) == pytest.approx(9869.6, abs=0.05)
    assert centrifugal(1, 100, 6000) == pytest.approx(4 * centrifugal(1, 100, 3000))


def test_outside_turning_takes_force_away() -> None:
    found = clamp.figures(case())
    assert one(found, "jaw force, standing").value == 8500
    assert one(found, "jaw force, at top speed").value == pytest.approx(8500 - TURNING)
    assert one(found, LEAST).value == pytest.approx(8500 - TURNING)
    assert one(found, LEAST).limit == 2250
    assert one(found, MOST).value == 8500


def test_inside_turning_adds_force() -> None:
    found = clamp.figures(case({"jaws.inside_or_outside": "inside"}))
    assert one(found, LEAST).value == 8500
    assert one(found, MOST).value == pytest.approx(8500 + TURNING)
    assert one(found, MOST).verdict == "does not fit"


def test_the_jaws_let_go() -> None:
    speed = round(3000 * sqrt(8500 / TURNING) * 1.01)
    found = clamp.figures(case({"program.spindle_top": speed}))
    assert (one(found, LEAST).value or 0) < 0
    assert one(found, LEAST).verdict == "does not fit"


@pytest.mark.parametrize("kind", ["vice", "collet"])
def test_only_a_chuck_turns(kind: str) -> None:
    gone = ["program.spindle_top", "jaws.jaw_mass", "jaws.jaw_radius", "jaws.inside_or_outside"]
    found = clamp.figures(case({"jaws.kind": kind}, without=gone))
    assert one(found, LEAST).value == one(found, MOST).value == 8500
    assert "jaw force, at top speed" not in {f.name for f in found}


def test_inches() -> None:
    mm, inch = by_name(clamp.figures(case())), by_name(clamp.figures(in_inches()))
    for key, figure in mm.items():
        assert inch[key].value == pytest.approx(figure.value)


@given(st.integers(1, 60))
def test_margin_changes_sign_with_the_verdict(pressure: int) -> None:
    found = clamp.figures(case({"jaws.clamp_pressure": pressure / 2}))
    for figure, margin in (
        (one(found, LEAST), pressure * 250 - TURNING - 2250),
        (one(found, MOST), 9000 - pressure * 250),
    ):
        assert figure.margin == pytest.approx(margin)
        assert (margin < 0) == (figure.verdict == "does not fit")


TURNS = ["program.spindle_top", "jaws.jaw_mass", "jaws.jaw_radius"]
FORCE = ["jaws.force_per_bar", "jaws.clamp_pressure"]
KIND = ["jaws.kind", "jaws.inside_or_outside"]
MISSING = {
    "jaw force, standing": FORCE,
    "jaw force, at top speed": [*FORCE, *KIND, *TURNS],
    LEAST: [*FORCE, *KIND, *TURNS, "jaws.force_least", "policy:clamp_safety"],
    MOST: [*FORCE, *KIND, "jaws.force_most"],
}


@pytest.mark.parametrize(("name", "address"), [(n, a) for n, many in MISSING.items() for a in many])
def test_cannot_tell(name: str, address: str) -> None:
    figure = one(clamp.figures(case(without=[address])), name)
    assert figure.verdict == "cannot tell"
    assert figure.missing == (address,)


def test_inside_asks_for_no_speed_where_the_least_is_standing() -> None:
    found = clamp.figures(case({"jaws.inside_or_outside": "inside"}, without=TURNS))
    assert one(found, LEAST).verdict == "fits"
    assert set(one(found, MOST).missing) == set(TURNS)
    outside = clamp.figures(case(without=TURNS))
    assert one(outside, MOST).value == 8500


def test_everything_missing_is_named_at_once() -> None:
    found = clamp.figures(case(without=[*FORCE, *TURNS, "jaws.force_least"]))
    assert set(one(found, LEAST).missing) == {*FORCE, *TURNS, "jaws.force_least"}
