"""Corners of the figures that a whole job seldom shows: each sum worked by hand beside it.

Volumes and moments are elementary geometry and statics; no other source is needed.
"""

from __future__ import annotations

from math import pi, radians, tan

import pytest

from engine.figures import all_figures
from engine.figures.changes import changed
from engine.figures.geometry.affine import design, solve
from engine.figures.geometry.tray_fit import fit_tray
from engine.figures.mechanics.grip import tipping_held
from engine.figures.mechanics.profile import Limits, seconds
from tests.engine.figures.a_gantry import facts
from tests.engine.figures.mill_case import case, one

STEEL = 7.85e-6  # kg/mm3


def figure(name, at=None, changes=None, without=()):
    return one(all_figures(case(changes, without=without)), name, at)


# what it weighs


def test_a_tube_is_what_is_left_of_a_rod():
    tube = {"blank.shape": "tube", "blank.bore": 20, "blank.density": 7.85}
    found = figure("blank mass", changes=tube, without=["blank.material"])
    assert found.value == pytest.approx(pi / 4 * (60.4**2 - 20**2) * 31.5 * STEEL)
    weighed = figure("blank mass", changes={**tube, "blank.mass": 0.6}, without=["blank.material"])
    small = pi / 4 * (59.6**2 - 20**2) * 31.5 * STEEL
    assert weighed.note.startswith(f"as weighed; worked out {small:.3f} to ")


def test_where_a_mass_comes_from_is_said():
    assert figure("blank mass").note == "worked out from the largest size"
    assert figure("part mass").note == "as weighed"
    worked = figure("part mass", without=["part.mass"])
    assert worked.note == "worked out from the largest size"
    holed = figure("part mass", changes={"part.bore": 20}, without=["part.mass"])
    assert holed.note.startswith("the hole is not taken off")
    tube = {"part.bore": 20, "part.shape": "tube"}
    assert figure("part mass", changes=tube, without=["part.mass"]).note == worked.note


# how it is held


@pytest.mark.parametrize(
    ("half_angle", "share"),
    [(60, 1 / tan(radians(60)) / 3), (45, 1 / 3), (30, 1 / 3), (89, 0.1), (90, 0.1)],
)
def test_v_fingers_hold_a_moment_by_their_faces(half_angle, share):
    """F·bite·cot(alpha)/3, never more than F·bite/3 nor less than friction gives, mu/2 = 0.1."""
    assert tipping_held(300, 10, 0.2, half_angle) == pytest.approx(300 * 10 / 1000 * share)


def test_a_safety_factor_of_nothing_is_named():
    found = figure("finger force, at rest", "blank", {"policy:hold_safety": 0})
    assert (found.verdict, "policy:hold_safety" in found.missing) == ("cannot tell", True)


def test_what_stands_out_of_the_jaws_is_for_information():
    found = figure("stick-out", "blank")
    assert (found.value, found.limit) == (24, None)


# where it lies


def test_a_block_in_a_round_pocket_counts_over_its_corners():
    block = {"blank.shape": "block", "blank.width": [29, 30], "blank.length": [39, 40]}
    found = figure("play in the pocket", "blank", block, ["blank.diameter"])
    assert found.value == pytest.approx((62 - 50) / 2)
    square = {**block, "tray.pocket_shape": "rectangle", "tray.pocket_length": 41}
    found = figure("play in the pocket", "blank", square, ["blank.diameter"])
    assert found.value == pytest.approx((41 - 40) / 2)
    assert found.limit == 0


def test_room_on_the_bed_is_judged_and_a_plate_too_long_does_not_fit():
    found = figure("room on the bed", "across")
    assert (found.value, found.limit, found.verdict) == (30, 0, "fits")
    assert figure("room on the bed", "across", {"tray.plate_across": 811}).verdict == "does not fit"


def test_a_fill_of_one_pocket_is_a_fill():
    lone = {"tray.across": 1, "tray.along": 1, "tray.unused": [], "lot.quantity": 3}
    assert figure("fills", changes=lone).value == 3
    kept = {**lone, "tray.across": 2, "cell:bed.keep_empty": 1}
    assert figure("fills", changes=kept).value == 3
    none = figure("fills", changes={**lone, "cell:bed.keep_empty": 1})
    assert none.missing == ("tray.across", "tray.along")


def test_a_tray_that_no_station_visits_names_the_stations():
    nowhere = {f"cell:stations.{name}.over_tray": False for name in ("fetch", "drop")}
    nowhere |= {f"cell:stations.{name}.place": "chute" for name in ("fetch", "drop")}
    found = [f for f in all_figures(case(nowhere)) if "cell:stations" in f.missing]
    assert found


@pytest.mark.parametrize("given", [{(0, 0): (0, 0)}, {(0, 0): (0, 0), (3, 0): (30, 0)}])
def test_a_grid_of_one_row_has_no_pitch_along(given):
    fit = fit_tray(given, 0.1)
    assert fit.pitch_along is None
    assert (fit.pitch_across is None) == (len(given) == 1)
    assert fit.skew is None


def test_residuals_and_leverage_of_a_plain_grid():
    """Five pockets, the middle one 0.5 off: a fifth of it goes into the grid, by symmetry."""
    points = {(0, 0): (0.0, 0.0), (2, 0): (20.0, 0.0), (0, 2): (0.0, 20.0), (2, 2): (20.0, 20.0)}
    points[1, 1] = (10.5, 10.0)
    plan = design(points)
    off = dict(zip(plan.pockets, plan.residuals(points), strict=True))
    assert off[1, 1] == (pytest.approx(0.4), pytest.approx(0))
    assert off[0, 0] == (pytest.approx(-0.1), pytest.approx(0))
    found = solve(points)
    assert found is not None
    assert found.u == (pytest.approx(10), pytest.approx(0))
    distances = dict(zip(plan.pockets, plan.left_out(points), strict=True))
    assert distances[1, 1] == pytest.approx(0.5)


# how it moves, and how long it takes


def test_no_way_takes_no_time_and_no_speed_none_that_is_known():
    limits = Limits(100, 1000, 1000)
    assert seconds(0, limits) == 0
    assert seconds(-1, limits) == 0
    assert seconds(10, Limits(0, 1000, 1000)) == 0


def test_motion_points_at_the_approach_of_its_station():
    found = {(f.name, f.at): f for f in all_figures(facts())}
    assert found["stopping distance", "fetch_collect"].look_at == "approach.collect"
    assert found["leg time", "return_fetch"].look_at == "approach.fetch"


def test_a_loader_half_a_second_slower_is_told_too():
    whole = {f.name: f for f in all_figures(facts()) if f.group == "cycle"}
    work = whole["loader's work meanwhile"].value
    for more, told in ((-0.5, False), (0.5, True)):
        seconds_of = {"record:lot.machining_seconds": round(work - more, 3)}
        found = {f.name: f for f in all_figures(facts(seconds_of)) if f.group == "cycle"}
        assert ("the machine waits" in found["loader's work meanwhile"].note) == told


# what a change does to them


def told(old, new):
    return changed(all_figures(case(old)), all_figures(case(new)))


def test_a_figure_that_still_fits_is_told_where_it_moved_by_enough():
    """Of 30 mm room, 3 mm are a tenth; of a margin as large, too."""
    assert any(c.name == "room on the bed" for c in told({}, {"tray.plate_across": 765}))
    assert not any(c.name == "room on the bed" for c in told({}, {"tray.plate_across": 779.99}))
    assert told({}, {}) == []
