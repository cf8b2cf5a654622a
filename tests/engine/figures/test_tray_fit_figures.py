"""The grid through taught pockets, against numpy, and who can be blamed for what is left over.

The cases are worked by hand. Fits by least squares between two patterns of points: Umeyama,
Least-squares estimation of transformation parameters between two point patterns, IEEE
PAMI 13 (1991) 376 (from memory).
"""

from __future__ import annotations

from itertools import combinations, product
from math import cos, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.figures.geometry import pockets
from engine.figures.geometry.affine import design
from engine.figures.geometry.tray_fit import TrayFit, fit_tray
from engine.figures.groups import tray_fit
from engine.figures.groups.tray_fit import in_words
from tests.engine.figures.mill_case import by_name, case, one

CORNERS = [(0, 0), (6, 0), (0, 4), (6, 4)]
CENTRE = (3, 2)


def taught(cells, bad=(), by=(0.4, 0.0)):  # type: ignore[no-untyped-def]
    points = {(c, r): (12 + 112.5 * c, 7 + 98.3 * r) for c, r in cells}
    for cell in bad:
        points[cell] = (points[cell][0] + by[0], points[cell][1] + by[1])
    return points


def test_a_turned_grid_by_hand() -> None:
    # worked: pockets (c,r) (0,0) (3,0) (0,2) (3,2) -> pitches 60 and 45, rotation 36.8699°
    points = {(0, 0): (10, 20), (3, 0): (154, 128), (0, 2): (-44, 92), (3, 2): (100, 200)}
    fit = fit_tray(points, 0.1)
    assert fit.verdict == "fits"
    assert fit.pitch_across == pytest.approx(60)
    assert fit.pitch_along == pytest.approx(45)
    assert fit.rotation == pytest.approx(36.8699, abs=5e-5)
    assert fit.skew == pytest.approx(0, abs=1e-9)
    assert fit.worst == pytest.approx(0, abs=1e-9)


def test_three_pockets_always_fit_and_say_nothing() -> None:
    fit = fit_tray(taught(CORNERS[:3], [(6, 0)], (50, -20)), 0.1, (7, 5))
    assert fit.verdict == "cannot tell"
    assert fit.suspects == tuple(CORNERS[:3])
    assert fit.worst is None
    assert max(hypot(*r) for r in fit.residuals.values()) < 1e-9
    assert fit.teach_next == (6, 4)


@pytest.mark.parametrize("bad", CORNERS)
def test_four_corners_show_a_quarter_and_hide_the_culprit(bad: tuple[int, int]) -> None:
    fit = fit_tray(taught(CORNERS, [bad]), 0.2, (7, 5))
    assert [hypot(*r) for r in fit.residuals.values()] == pytest.approx([0.1] * 4)
    assert fit.worst == pytest.approx(0.4)
    assert fit.verdict == "does not fit"
    assert set(fit.suspects) == set(CORNERS)
    assert fit.twins == (tuple(CORNERS),)


@pytest.mark.parametrize(("bad", "opposite"), [((6, 0), (0, 4)), ((0, 0), (6, 4))])
def test_with_the_centre_a_corner_and_its_opposite_remain(
    bad: tuple[int, int], opposite: tuple[int, int]
) -> None:
    fit = fit_tray(taught([*CORNERS, CENTRE], [bad]), 0.2, (7, 5))
    assert set(fit.suspects) == {bad, opposite}
    sizes = {p: hypot(*r) for p, r in fit.residuals.items()}
    assert sizes[bad] == pytest.approx(sizes[opposite])
    assert fit.teach_next not in (None, bad, opposite, CENTRE)


def test_the_centre_itself_is_found() -> None:
    fit = fit_tray(taught([*CORNERS, CENTRE], [CENTRE]), 0.2, (7, 5))
    assert fit.suspects == (CENTRE,)
    assert in_words(fit).startswith("r3c4 is off")


cells = st.lists(
    st.tuples(st.integers(0, 6), st.integers(0, 5)), min_size=3, max_size=9, unique=True
)


@given(cells, st.lists(st.floats(-0.5, 0.5), min_size=18, max_size=18))
def test_against_numpy(places, noise) -> None:  # type: ignore[no-untyped-def]
    points = {
        p: (112.5 * p[0] + noise[2 * i], 98.3 * p[1] + noise[2 * i + 1])
        for i, p in enumerate(places)
    }
    matrix = np.array([[1.0, c, r] for c, r in places])
    fit = fit_tray(points, 0.2)
    target = np.array([points[p] for p in places])
    solved, *_ = np.linalg.lstsq(matrix, target, rcond=None)
    left = target - matrix @ solved
    assert np.array(list(fit.residuals.values())) == pytest.approx(left, abs=1e-8)
    if np.linalg.matrix_rank(matrix) == 3:
        assert fit.grid is not None
        assert fit.grid.at((0, 0)) == pytest.approx(tuple(solved[0]), abs=1e-6)
        assert fit.pitch_across == pytest.approx(float(np.hypot(*solved[1])))
        assert fit.pitch_along == pytest.approx(float(np.hypot(*solved[2])))
        hat = matrix @ np.linalg.pinv(matrix)
        plan = design(places)
        for i, j in product(range(len(places)), repeat=2):
            assert plan.shows(i, j) == pytest.approx((i == j) - hat[i, j], abs=1e-9)


@given(cells, st.integers(0, 8), st.floats(-2, 2), st.floats(-2, 2))
def test_left_out_is_the_distance_from_the_grid_of_all_others(places, which, dx, dy) -> None:  # type: ignore[no-untyped-def]
    which %= len(places)
    points = taught(places, [places[which]], (dx, dy))
    found = fit_tray(points, 0.2).left_out[places[which]]
    others = {p: xy for p, xy in points.items() if p != places[which]}
    matrix = np.array([[1.0, c, r] for c, r in others])
    assume(np.linalg.matrix_rank(matrix) == 3)
    solved, *_ = np.linalg.lstsq(matrix, np.array(list(others.values())), rcond=None)
    column, row = places[which]
    expected = np.array([1.0, column, row]) @ solved - np.array(points[places[which]])
    if found is not None:
        assert found == pytest.approx(float(np.hypot(*expected)), abs=1e-6)


@given(cells, st.integers(0, 8), st.floats(0.5, 5), st.floats(0, 6.28))
def test_the_culprit_is_always_among_the_suspects(places, which, by, way) -> None:  # type: ignore[no-untyped-def]
    bad = places[which % len(places)]
    points = taught(places, [bad], (by * cos(way), by * sin(way)))
    fit = fit_tray(points, 0.2, (7, 6))
    assert fit.verdict != "fits"
    assert bad in fit.suspects


@pytest.mark.parametrize("extra", [[], [(4, 1)], [(4, 1), (2, 2)], [(4, 1), (2, 2), (5, 3)]])
def test_noise_of_teaching_clears_no_culprit(extra) -> None:  # type: ignore[no-untyped-def]
    noise = np.random.default_rng(5)
    for _ in range(150):
        places = [*CORNERS, *extra]
        good = {
            p: (x + noise.normal(0, 0.03), y + noise.normal(0, 0.03))
            for p, (x, y) in taught(places).items()
        }
        assert fit_tray(good, 0.3).verdict == "fits"
        bad = places[int(noise.integers(len(places)))]
        moved = {**good, bad: (good[bad][0] + 0.8, good[bad][1])}
        assert bad in fit_tray(moved, 0.3, (7, 5)).suspects


@given(st.sampled_from(CORNERS), st.floats(0.5, 3), st.floats(0, 6.28))
def test_teaching_what_is_asked_for_finds_the_culprit(bad, by, way) -> None:  # type: ignore[no-untyped-def]
    places = list(CORNERS)
    for _ in range(4):
        points = taught(places, [bad], (by * cos(way), by * sin(way)))
        fit = fit_tray(points, 0.1, (7, 5))
        if fit.suspects == (bad,):
            return
        assert fit.teach_next is not None
        assert fit.teach_next not in places
        places.append(fit.teach_next)
    pytest.fail(f"still {fit.suspects} after {places}")


def test_two_culprits_are_named_as_two() -> None:
    places = [(c, r) for r in (0, 2, 4) for c in (0, 3, 6)]
    points = taught(places, [(3, 0)], (1.0, 0.3))
    points[3, 4] = (points[3, 4][0] - 0.7, points[3, 4][1] + 0.9)
    fit = fit_tray(points, 0.2, (7, 5))
    assert fit.culprits == 2
    assert {(3, 0), (3, 4)} <= set(fit.suspects)
    assert in_words(fit).startswith("two of") or len(fit.suspects) == 2


@pytest.mark.parametrize(
    ("culprits", "suspects", "verdict", "words"),
    [
        (0, [], "fits", ""),
        (0, [(0, 0), (8, 0)], "cannot tell", "r1c1, r1c9 cannot be checked yet; teach r3c5 next"),
        (1, [(8, 0)], "disagrees", "r1c9 is off, the others agree; teach r3c5 next"),
        (1, [(0, 0), (8, 4)], "disagrees",
         "one of r1c1, r5c9 is off, which one cannot be told; teach r3c5 next"),
        (2, [(0, 0), (8, 4), (0, 2)], "disagrees",
         "two of r1c1, r5c9, r3c1 are off, which ones cannot be told; teach r3c5 next"),
        (3, [(0, 0), (8, 4)], "disagrees",
         "several of r1c1, r5c9 are off, or the plate is; teach r3c5 next"),
    ],
)  # fmt: skip
def test_what_a_setter_reads_of_suspects(culprits, suspects, verdict, words) -> None:  # type: ignore[no-untyped-def]
    fit = TrayFit(verdict, None, {}, {}, tuple(suspects), culprits, (), (4, 2))
    assert in_words(fit) == words
    alone = TrayFit(verdict, None, {}, {}, tuple(suspects), culprits, (), None)
    assert in_words(alone) == words.removesuffix("; teach r3c5 next")


def test_a_bent_plate_blames_everybody() -> None:
    points = {
        (c, r): (112.5 * c + 3 * c**3, 98.3 * r - 2 * r**3) for r in (1, 2, 3) for c in (1, 2, 3)
    }
    fit = fit_tray(points, 0.2)
    assert set(fit.suspects) == set(points)
    assert "or the plate is" in in_words(fit)


def test_twins_are_pockets_whose_columns_are_parallel() -> None:
    places = [*CORNERS, CENTRE]
    matrix = np.array([[1.0, c, r] for c, r in places])
    left = np.eye(5) - matrix @ np.linalg.pinv(matrix)
    parallel = {
        frozenset((places[i], places[j]))
        for i, j in combinations(range(5), 2)
        if abs(left[:, i] @ left[:, j])
        > 0.999999 * np.linalg.norm(left[:, i]) * np.linalg.norm(left[:, j])
    }
    assert parallel == {frozenset(pair) for pair in fit_tray(taught(places), 0.1).twins}


def test_a_single_row_a_slanted_line_and_nothing() -> None:
    row = fit_tray(taught([(0, 0), (3, 0), (6, 0)]), 0.1, (7, 1))
    assert row.verdict == "fits"
    assert row.pitch_across == pytest.approx(112.5)
    assert row.pitch_along is None
    assert row.skew is None
    slant = fit_tray(taught([(0, 0), (1, 1)]), 0.1, (7, 5))
    assert (slant.verdict, slant.grid) == ("cannot tell", None)
    assert fit_tray({}, 0.1, (7, 5)).teach_next == (0, 0)
    assert fit_tray({}, 0.1).verdict == "cannot tell"


@given(
    st.floats(20, 200), st.floats(20, 200), st.floats(-179, 179), st.floats(-5, 5), st.booleans()
)
def test_grid_and_fit_are_inverse(
    across: float, along: float, turn: float, skew: float, flip: bool
) -> None:
    other = radians(turn + (90 + skew) * (-1 if flip else 1))
    u = (across * cos(radians(turn)), across * sin(radians(turn)))
    v = (along * cos(other), along * sin(other))
    places = [*CORNERS, (3, 1)]
    points = {(c, r): (3 + c * u[0] + r * v[0], -8 + c * u[1] + r * v[1]) for c, r in places}
    fit = fit_tray(points, 0.01)
    assert fit.verdict == "fits"
    assert fit.pitch_across == pytest.approx(across)
    assert fit.pitch_along == pytest.approx(along)
    assert fit.rotation == pytest.approx(turn, abs=1e-6)
    assert fit.skew == pytest.approx(skew, abs=1e-6)
    assert fit.grid is not None
    for pocket, place in points.items():
        assert fit.grid.at(pocket) == pytest.approx(place, abs=1e-6)


def _taught(names: list[str], changes: dict[str, object] | None = None, **off: float):  # type: ignore[no-untyped-def]
    """The case with pockets taught where its own grid puts them, some of them off."""
    places = {p.name: p.loader["fetch"] for p in pockets.places(case(changes))}
    taught_at: dict[str, object] = dict(changes or {})
    for name in names:
        for axis, value in places[name].items():
            moved = off.get(name, 0.0) if axis == "slide" else 0.0
            taught_at[f"tray.taught.{name}.{axis}"] = round(value + moved, 6)
    return taught_at


@pytest.mark.parametrize("corner", ["near left", "near right", "far left", "far right"])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_grid_of_the_record_fits_whatever_its_corner_and_signs(corner: str, sign: int) -> None:
    way = {"cell:bed.corner": corner, "cell:axes.bridge.sign": sign, "tray.unused": []}
    table = by_name(tray_fit.figures(case(_taught(["r1c7", "r4c1", "r4c7", "r2c4"], way))))
    assert table["taught pockets disagree", "tray"].verdict == "fits"
    assert table["fitted pitch", "across"].value == pytest.approx(112.5)
    assert table["fitted pitch", "along"].value == pytest.approx(98.3)
    assert table["rotation", "tray"].value == pytest.approx(0, abs=1e-9)
    assert table["skew", "tray"].value == pytest.approx(0, abs=1e-9)


def test_a_mistaught_pocket_is_named_with_what_to_teach_next() -> None:
    found = tray_fit.figures(case(_taught(["r1c7", "r4c1", "r4c6"], r4c1=0.5)))
    figure = one(found, "taught pockets disagree")
    assert figure.verdict == "does not fit"
    assert "r4c1" in figure.note
    assert "next" in figure.note
    off = [f for f in found if f.name == "off the written grid"]
    assert [(f.at, f.verdict) for f in off] == [("r4c1", "does not fit")]


def test_wrong_pitch_is_off_the_written_grid_while_the_pockets_agree() -> None:
    changes = _taught(["r1c7", "r4c1", "r4c6", "r2c4"])
    found = tray_fit.figures(case({**changes, "tray.pitch_across": 112.6}))
    assert one(found, "taught pockets disagree").verdict == "fits"
    assert one(found, "off the written grid").verdict == "does not fit"
    assert one(found, "off the written grid").value == pytest.approx(0.6)


def test_off_the_grid_is_the_way_along_both_directions() -> None:
    # by hand: 6 columns of 0.04 too much and 3 rows of 0.06 too little, 0.24 and 0.18 -> 0.30
    pitches = {"tray.pitch_across": 112.46, "tray.pitch_along": 98.36}
    taught_so = _taught(["r1c7", "r4c1", "r4c7"], {"tray.unused": []})
    found = one(tray_fit.figures(case({**taught_so, **pitches})), "off the written grid")
    assert found.at == "r4c7"
    assert found.value == pytest.approx(0.3)


def test_nothing_taught_says_nothing_and_two_pockets_cannot_tell() -> None:
    assert tray_fit.figures(case()) == []
    figure = one(tray_fit.figures(case(_taught(["r1c7"]))), "taught pockets disagree")
    assert figure.verdict == "cannot tell"
    assert figure.missing[0].startswith("tray.taught.r")


@pytest.mark.parametrize(
    "address",
    [
        "policy:agreement_tolerance",
        "tray.across",
        "tray.along",
        "tray.taught.r4c1.slide",
        "cell:bed.across_axis",
        "cell:bed.along_axis",
        "cell:bed.corner",
        "cell:axes.slide.sign",
        "cell:axes.slide.along",
    ],
)
def test_cannot_tell(address: str) -> None:
    facts = case(_taught(["r1c7", "r4c1", "r4c6"]), without=[address])
    figure = one(tray_fit.figures(facts), "taught pockets disagree")
    assert figure.verdict == "cannot tell"
    assert address in figure.missing


def test_off_the_grid_needs_pitches_and_r1c1() -> None:
    facts = case(_taught(["r1c7", "r4c1", "r4c6"]), without=["tray.pitch_along"])
    assert one(tray_fit.figures(facts), "off the written grid").missing == ("tray.pitch_along",)
    facts = case(_taught(["r1c7", "r4c1", "r4c6"]), without=["positions.fetch"])
    assert one(tray_fit.figures(facts), "off the written grid").missing == ("tray.taught.r1c1",)
