"""Extents and times: worked by hand, or computed by another way than the reader's.

Sections of NISTIR 6556 finer than 3.5 are from memory.
"""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.programs import TURNING, Dialect, ProgramFacts, read_program


def read(text: str, dialect: Dialect | None = None) -> ProgramFacts:
    return read_program((text + "\nM30\n").encode(), dialect=dialect or Dialect(units="mm"))


def span(facts: ProgramFacts, axis: str) -> tuple[float, float]:
    return facts.extents[axis].low, facts.extents[axis].high


def notes(facts: ProgramFacts) -> list[str]:
    return [note.kind for note in facts.notes]


# --- straight moves ---


def test_absolute_and_incremental() -> None:
    """G90 and G91: NISTIR 6556, 3.5.17."""
    facts = read("G0 X10 Y5\nG91 G1 X-15 F100\nX5 Y1\nG90 X7")
    assert (span(facts, "X"), span(facts, "Y")) == ((-5.0, 10.0), (5.0, 6.0))
    assert (facts.extents["X"].low_line, facts.extents["X"].high_line) == (2, 1)


def test_an_increment_from_nowhere_is_left_out() -> None:
    facts = read("G91 G0 X5")
    assert facts.extents == {}
    assert notes(facts) == ["unknown_increment"]


def test_extents_in_inches_are_in_mm_too() -> None:
    facts = read("G20\nG0 X-2 A90", Dialect())
    assert (facts.extents["X"].low, facts.extents["X"].low_mm) == (-2.0, -50.8)
    assert (facts.extents["A"].low, facts.extents["A"].low_mm) == (90.0, None)


def test_machine_coordinates_stand_apart() -> None:
    """G53: NISTIR 6556, 3.5.12."""
    facts = read("G0 Z5\nG53 G0 Z-100\nG1 Z-1 F100")
    assert span(facts, "Z") == (-1.0, 5.0)
    assert facts.machine_extents["Z"].low == -100.0
    assert (facts.times.cutting, notes(facts)) == (0.0, ["unknown_start"])


def test_reference_moves_go_by_way_of_a_point() -> None:
    """G28: NISTIR 6556, 3.5.8."""
    facts = read("G0 X1 Z5\nG91 G28 Z20\nG90 G0 X3")
    assert span(facts, "Z") == (5.0, 25.0)
    assert [m.line for m in facts.reference_moves] == [2]


def test_a_shift_of_coordinates_is_noted() -> None:
    facts = read("G0 X10\nG92 X0\nG1 X5 F100")
    assert (span(facts, "X"), facts.times.cutting, notes(facts)) == ((5.0, 10.0), 3.0, ["frame"])


# --- time ---


def test_time_is_length_by_feed() -> None:
    """3-4-5 triangle of 50 mm at 100 mm/min: 30 s; rapid apart."""
    facts = read("G0 X0 Y0\nG1 X30 Y40 F100\nG0 X0 Y0")
    assert (facts.times.cutting, facts.times.rapid_length, facts.times.cutting_length) == (
        30,
        50,
        50,
    )


def test_feed_per_revolution_needs_a_speed() -> None:
    """60 mm at 0.2 mm and 600 1/min = 120 mm/min: 30 s (common practice)."""
    assert read("G0 X0\nS600 M3\nG95 G1 X60 F0.2").times.cutting == 30.0
    facts = read("G0 X0\nG95 G1 X60 F0.2")
    assert (facts.times.cutting, notes(facts)) == (0.0, ["no_speed"])


def test_inverse_time() -> None:
    """G93: F is 1/min; two moves of 1/4 min are 30 s (NISTIR 6556, 3.5.19)."""
    assert read("G0 X0\nG93 G1 X60 F4\nX0 F4").times.cutting == 30.0


def test_a_feed_of_another_mode_does_not_count() -> None:
    facts = read("G0 X0\nG94 F100\nG95 S500\nG1 X10")
    assert (facts.times.cutting, notes(facts)) == (0.0, ["no_feed"])


def test_dwell() -> None:
    """G4 P in seconds: NISTIR 6556, 3.5.4; milliseconds and X: common practice."""
    assert read("G4 P2.5\nG04 X1.5").times.dwell == 4.0
    assert read("G4 P2500", Dialect(dwell_seconds=0.001)).times.dwell == 2.5
    assert read("G0 X3\nG4 X9").extents["X"].high == 3.0


def test_a_change_of_unit_keeps_place_and_time() -> None:
    facts = read("G21\nG0 X0\nG20\nG1 X1 F1\nG21\nX50.8 F50.8", Dialect())
    assert span(facts, "X") == (0.0, 50.8)
    assert facts.times.cutting == pytest.approx(60 + 30)


def test_facing_at_surface_speed() -> None:
    """From 100 to 20 mm diameter at 0.2 mm and 180 m/min.

    dt = -dx / (f n), n = 1000 v / (pi 2x): t = pi (r0^2 - r1^2) / (1000 f v) minutes,
    here pi (2500 - 100) / (1000 * 0.2 * 180) * 60 = 12.566 s.
    """
    facts = read("G21 G0 X100. Z0\nG96 S180 M3\nG99 G1 X20. F0.2", TURNING)
    assert facts.times.cutting == pytest.approx(12.566, abs=1e-3)
    clamped = read("G21 G50 S600\nG0 X100. Z0\nG96 S180\nG99 G1 X20. F0.2", TURNING)
    assert clamped.times.cutting == pytest.approx(40 / (0.2 * 600) * 60)


def test_threads_take_f_as_lead() -> None:
    assert read("G0 Z0\nS300 F99\nG33 Z-30 F1.5\nM30").times.cutting == pytest.approx(30 / 450 * 60)


def test_subprograms_count_as_often_as_they_are_called() -> None:
    """Main 10 mm, subprogram 3 x 6 mm at 60 mm/min: 28 s; P30002 is three times 2.

    The increments are followed once, and a note says so."""
    text = "O1\nG90 G0 X0 Y0\nG1 X10 F60\n{}\nM30\nO2\nG91 G1 Y6\nM99"
    for call in ("M98 P2 L3", "M98 P30002"):
        facts = read(text.format(call))
        assert facts.times.cutting == 28.0
        assert span(facts, "Y") == (0.0, 6.0)
        assert notes(facts) == ["call_repeated"]


def test_programs_that_call_each_other_do_not_hang() -> None:
    facts = read("O1\nM98 P2\nM30\nO2\nM98 P3\nM99\nO3\nM98 P2\nM99")
    assert "call_loop" in notes(facts)


# --- arcs ---


def sampled(
    start: complex, end: complex, centre: complex, clockwise: bool
) -> list[tuple[float, float]]:
    """The arc as many points, by turning the start about the centre: another way than extremes."""
    radius = start - centre
    turn = (end - centre) / radius
    angle = math.atan2(turn.imag, turn.real) * (-1 if clockwise else 1)
    angle = angle + 2 * math.pi if angle <= 1e-12 else angle
    steps = 4000
    points = []
    for step in range(steps + 1):
        part = angle * step / steps * (-1 if clockwise else 1)
        point = radius * complex(math.cos(part), math.sin(part))
        points.append(((centre + point).real, (centre + point).imag))
    return points


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([("G17", "XY", "IJ"), ("G18", "ZX", "KI"), ("G19", "YZ", "JK")]),
    st.booleans(),
    st.floats(-math.pi, math.pi),
    st.floats(0.05, 6.2),
    st.floats(0.5, 500),
)
def test_arc_extremes_against_dense_sampling(
    plane: tuple[str, str, str], clockwise: bool, start: float, sweep: float, radius: float
) -> None:
    """Centre form in each plane (NISTIR 6556, 3.5.3.2): extents, and length by the samples."""
    code, (u, v), (i, j) = plane
    cu, cv = 12.5, -7.25
    end = start + (-sweep if clockwise else sweep)
    u0, v0 = (round(cu + radius * math.cos(start), 6), round(cv + radius * math.sin(start), 6))
    u1, v1 = (round(cu + radius * math.cos(end), 6), round(cv + radius * math.sin(end), 6))
    text = (
        f"{code} G0 {u}{u0:.6f} {v}{v0:.6f}\n"
        f"G{2 if clockwise else 3} {u}{u1:.6f} {v}{v1:.6f} {i}{cu - u0:.6f} {j}{cv - v0:.6f} F60"
    )
    facts = read(text)
    points = sampled(complex(u0, v0), complex(u1, v1), complex(cu, cv), clockwise)
    slack = 1e-4 + radius * 1e-6
    assert span(facts, u)[0] == pytest.approx(min(p[0] for p in points), abs=slack)
    assert span(facts, u)[1] == pytest.approx(max(p[0] for p in points), abs=slack)
    assert span(facts, v)[0] == pytest.approx(min(p[1] for p in points), abs=slack)
    assert span(facts, v)[1] == pytest.approx(max(p[1] for p in points), abs=slack)
    length = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    assert facts.times.cutting == pytest.approx(length, rel=1e-4, abs=1e-3)
    assert facts.problems.count == 0


@pytest.mark.parametrize(
    ("line", "xs", "ys", "length"),
    [
        ("G3 X0 Y10 R10", (0, 10), (0, 10), 5 * math.pi),  # a quarter about the origin
        ("G3 X0 Y10 R-10", (0, 20), (0, 20), 15 * math.pi),  # three quarters about (10, 10)
        ("G2 X0 Y10 R10", (0, 10), (0, 10), 5 * math.pi),  # a quarter about (10, 10)
        ("G2 X0 Y10 R-10", (-10, 10), (-10, 10), 15 * math.pi),  # three quarters about the origin
        ("G2 X-10 Y0 R10", (-10, 10), (-10, 0), 10 * math.pi),  # half a circle
        ("G3 I-10", (-10, 10), (-10, 10), 20 * math.pi),  # full circle
        ("G2 X10 Y0 I-10 J0", (-10, 10), (-10, 10), 20 * math.pi),
        ("G3 X10 Y0 I5", (10, 20), (-5, 5), 10 * math.pi),
    ],
)
def test_arcs_worked_by_hand(
    line: str, xs: tuple[float, float], ys: tuple[float, float], length: float
) -> None:
    """From (10, 0); radius form: NISTIR 6556, 3.5.3.1, a negative R is more than half a circle."""
    facts = read(f"G0 X10 Y0\n{line} F60")
    assert span(facts, "X") == pytest.approx(xs, abs=1e-6)
    assert span(facts, "Y") == pytest.approx(ys, abs=1e-6)
    assert facts.times.cutting == pytest.approx(length, abs=1e-5)


def test_the_reports_example_of_the_centre_form() -> None:
    """NISTIR 6556, 3.5.3.2 (from memory): from (7, 7), `G17 G2 X10 Y16 I3 J4 Z9`: centre (10, 11).

    Radius 5; clockwise from (7, 7) over the left-hand extreme (5, 11) to (10, 16).
    """
    facts = read("G0 X7 Y7 Z9\nG17 G2 X10 Y16 I3 J4 Z9 F60")
    assert span(facts, "X") == (5.0, 10.0)
    assert span(facts, "Y") == (7.0, 16.0)
    assert facts.times.cutting == pytest.approx(5 * math.acos(-0.8), abs=1e-5)


def test_a_helix_is_longer_than_its_circle() -> None:
    facts = read("G0 X10 Y0 Z0\nG2 X10 Y0 Z-5 I-10 F60")
    assert facts.times.cutting == pytest.approx(math.hypot(20 * math.pi, 5), abs=1e-5)
    assert span(facts, "Z") == (-5.0, 0.0)


def test_an_incremental_arc() -> None:
    facts = read("G0 X10 Y0\nG91 G3 X-20 Y0 I-10 F60")
    assert (span(facts, "X"), span(facts, "Y")) == ((-10.0, 10.0), (0.0, 10.0))


@pytest.mark.parametrize("line", ["G2 X0 Y10", "G2 X0 Y50 R5", "G2 X10 Y0 R5"])
def test_arcs_that_do_not_exist_are_problems(line: str) -> None:
    """NISTIR 6556, 3.5.3: no centre; ends too far apart; radius form back to its start."""
    facts = read(f"G0 X10 Y0\n{line} F60")
    assert [p.kind for p in facts.problems] == ["arc"]
    assert "arc_not_followed" in notes(facts)


@pytest.mark.parametrize(("off", "good"), [(0.0019, True), (0.0021, False)])
def test_radii_may_differ_by_two_thousandths(off: float, good: bool) -> None:
    """0.002 mm, 0.0002 in (NISTIR 6556, 3.5.3.2)."""
    assert (read(f"G0 X10 Y0\nG3 X0 Y{10 + off:.4f} I-10 F60").problems.count == 0) is good
    inches = read_program(f"G20 G0 X10 Y0\nG3 X0 Y{10 + off / 10:.5f} I-10 F60\nM30".encode())
    assert (inches.problems.count == 0) is good


def test_a_lathe_arc_has_diameters_in_x() -> None:
    """A ball of radius 10 from its pole to its equator: X is 0 to 20, length 5 pi."""
    facts = read("G21 G0 X0 Z0\nG94 G98 G3 X20. Z-10. I0 K-10. F60", TURNING)
    assert (span(facts, "X"), span(facts, "Z")) == ((0.0, 20.0), (-10.0, 0.0))
    by_radius = read("G21 G0 X0 Z0\nG98 G3 X20. Z-10. R10. F60", TURNING)
    assert by_radius.times.cutting == pytest.approx(5 * math.pi, abs=1e-5)


def test_lathe_increments() -> None:
    """U and W are increments of X and Z (common practice)."""
    facts = read("G21 G0 X50. Z2.\nG98 G1 W-22. F60\nU4. W-3.", TURNING)
    assert (span(facts, "X"), span(facts, "Z")) == ((50.0, 54.0), (-23.0, 2.0))
    assert facts.times.cutting == pytest.approx(22 + math.hypot(2, 3), abs=1e-5)


def test_lathe_cycles_are_noted_not_guessed() -> None:
    facts = read(
        "G0 X50. Z2.\nG71 U2. R1.\nG71 P10 Q20 U0.4 W0.1 F0.3\n"
        "N10 G0 X20.\nN20 G1 Z-30. F0.1\nG92 X19. Z-20. F1.5\nX18.5",
        TURNING,
    )
    assert span(facts, "X") == (18.5, 50.0)
    assert span(facts, "Z") == (-30.0, 2.0)
    assert "cycle" in notes(facts)


# --- drilling cycles: NISTIR 6556, 3.5.16 ---


def test_drilling_goes_to_the_bottom_at_every_hole() -> None:
    """Three holes from R 2 to -10 at 60 mm/min: 36 s."""
    facts = read("G0 X0 Y0 Z20\nG99 G81 X10 Y0 Z-10 R2 F60\nX20\nX30 Y5\nG80\nG0 Z20")
    assert (span(facts, "X"), span(facts, "Y"), span(facts, "Z")) == ((0, 30), (0, 5), (-10, 20))
    assert (facts.times.cutting, facts.notes) == (36.0, ())


def test_drilling_with_repeats_in_increments() -> None:
    """R from where Z stands, Z from R, X again for each of four holes; dwell 0.5 s each."""
    facts = read("G0 X0 Y0 Z5\nG91 G82 X10 Z-3 R-4 L4 P0.5 F60\nG80 G90")
    assert (span(facts, "X"), span(facts, "Z")) == ((0, 40), (-2, 5))
    assert (facts.times.cutting, facts.times.dwell) == (12.0, 2.0)


def test_boring_feeds_out_too() -> None:
    assert read("G0 X0 Y0 Z2\nG85 Z-10 R2 F60").times.cutting == 24.0


def test_a_cycle_without_its_words_is_a_problem() -> None:
    assert [p.kind for p in read("G0 X0 Y0 Z2\nG81 X5 F60").problems] == ["cycle"]


def test_axis_words_that_are_not_evaluated_lose_the_position() -> None:
    facts = read("G0 X0 Z5\nG1 X#1 F60\nX10\nX20")
    assert span(facts, "X") == (0.0, 20.0)
    assert facts.times.cutting == 10.0
    assert "axis_expression" in notes(facts)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-9999, 9999), st.integers(-9999, 9999)), min_size=2, max_size=30)
)
def test_absolute_and_incremental_say_the_same(points: list[tuple[int, int]]) -> None:
    """The same path both ways: thousandths of a mm as whole numbers, so that sums are exact."""
    absolute = ["G0 X0 Y0", "G1 F60"] + [f"X{x / 1000:.3f} Y{y / 1000:.3f}" for x, y in points]
    steps = zip([(0, 0), *points], points, strict=False)
    relative = ["G0 X0 Y0", "G91 G1 F60"] + [
        f"X{(b[0] - a[0]) / 1000:.3f} Y{(b[1] - a[1]) / 1000:.3f}" for a, b in steps
    ]
    one, other = read("\n".join(absolute)), read("\n".join(relative))
    assert span(one, "X") == span(other, "X")
    assert span(one, "X")[1] == max(0, *(x for x, _ in points)) / 1000
    assert one.times.cutting == pytest.approx(other.times.cutting, abs=1e-4)
