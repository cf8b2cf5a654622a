"""Holding forces against textbooks, against brute force, and with each input taken out."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import hold
from engine.figures.mechanics.grip import (
    Grip,
    force,
    per_newton_flat,
    per_newton_v,
    tipping,
    tipping_held,
)
from engine.figures.mechanics.pull import REST, Pull, pulls
from schemas.factors import G
from tests.engine.figures.mill_case import by_name, case, in_inches, one

LBF = 4.448222  # NIST SP 811 (2008), App. B.8; seen quoted, not in the original


def ruling(found):  # type: ignore[no-untyped-def]
    """The force that rules for each thing that is carried, largest first."""
    rows = [figure for figure in found if figure.note.startswith("rules")]
    return sorted(rows, key=lambda figure: -(figure.value or 0.0))


def test_textbook_weights() -> None:
    # Groover, Weiss, Nagel, Odrey, Industrial Robotics: Technology, Programming, and
    # Applications, 1986, ch. 5, problems: seen quoted, not in the original; results worked
    pounds = force(8 / G, (0, 0, 3 * G), "x", per_newton_flat(0.3), 1.0)
    assert pounds == pytest.approx(40.0)
    assert pounds * LBF == pytest.approx(177.93, abs=0.005)
    assert force(2, (0, 0, G), "x", per_newton_flat(0.3), 1) == pytest.approx(32.7, abs=0.05)


def test_lifting_adds_and_a_descent_at_g_needs_no_friction() -> None:
    flat = per_newton_flat(0.15)
    assert force(2.5, (0, 0, G + 3), "x", flat, 2) == pytest.approx(213.44, abs=0.005)
    assert force(2.5, (0, 0, G - G), "x", flat, 2) == 0.0


def test_v_fingers_at_45_degrees() -> None:
    # statics, worked: 0.354·S·m·t/mu, not 0.25
    assert per_newton_v(0.2, 45) * 0.2 == pytest.approx(0.354, abs=5e-4)
    assert per_newton_v(0.2, 90) == pytest.approx(per_newton_flat(0.2))


def test_gravity_acts_along_a_vertical_closing_direction() -> None:
    flat = per_newton_flat(0.1)
    assert force(1, (0, 0, G), "z", flat, 1) == pytest.approx(G)
    assert force(1, (3, 4, G), "z", flat, 1) == pytest.approx(5 * flat + G)
    assert force(1, (3, 4, G), "x", flat, 1) == pytest.approx(hypot(4, G) * flat + 3)


directions = st.sampled_from(["x", "y", "z"])
sizes = st.floats(0, 30)


@given(sizes, sizes, sizes, sizes, directions, st.floats(0.3, 10))
def test_a_pull_anywhere_is_covered_and_reached(x, y, z, r, closing, across) -> None:  # type: ignore[no-untyped-def]
    grip = Grip(1.0, across, 1.0, closing)
    bound = grip.force(Pull(x, y, z, r))
    found = 0.0
    for a in range(0, 91, 5):
        for b in range(0, 91, 5):
            way = (sin(radians(a)) * cos(radians(b)), sin(radians(a)) * sin(radians(b)))
            felt = (x + r * way[0], y + r * way[1], z + r * cos(radians(a)))
            found = max(found, force(1.0, felt, closing, across, 1.0))
    assert found <= bound + 1e-9
    assert found >= bound * 0.985


@given(sizes, sizes, sizes, st.floats(0.3, 10))
def test_a_turned_closing_direction_is_covered_and_reached(x, y, z, across) -> None:  # type: ignore[no-untyped-def]
    bound = Grip(1.0, across, 1.0, "x", turned=True).force(Pull(x, y, z))
    found = 0.0
    for degree in range(181):
        c = (cos(pi * degree / 180), sin(pi * degree / 180))
        along = abs(x * c[0] + y * c[1])
        sideways = sqrt(max(x * x + y * y + z * z - along**2, 0))
        found = max(found, across * sideways + along)
    assert found <= bound + 1e-9
    assert found >= bound * 0.995
    level = Grip(1.0, across, 1.0, "z", turned=True).force(Pull(x, y, z))
    assert level == Grip(1.0, across, 1.0, "z").force(Pull(x, y, z))  # turning leaves z alone


def test_axes_that_move_together_add_as_vectors_of_the_worst_sign() -> None:
    facts = case()
    (up, level, down) = pulls(facts, "to_machine", "emergency stop")
    assert up == down == Pull(0, 0, G + 4, 0)
    assert level == Pull(6, 5, G, 0)
    assert pulls(facts, "to_machine", "speeding up")[1] == Pull(3, 2, G, 0)
    assert pulls(facts, "swap", "emergency stop")[1] == REST  # the machine's own axis


def test_braking_is_as_acceleration_where_not_given_and_free_axes_may_mix() -> None:
    facts = case(without=["cell:axes.slide.braking"])
    assert pulls(facts, "back", "braking")[1] == Pull(3, 2.5, G, 0)
    strong = {"cell:axes.slide.acceleration": 5000}
    assert pulls(case(strong), "back", "braking")[1] == Pull(5, 2.5, G, 0)
    straight = {**strong, "cell:legs.back.path": "straight"}
    assert pulls(case(straight), "back", "braking")[1] == Pull(3.5, 2.5, G, 0)


ARM = {
    "cell:axes.swing.of": "loader",
    "cell:axes.swing.kind": "rotary",
    "cell:axes.swing.unit": "deg",
    "cell:axes.swing.speed": 90,
    "cell:axes.swing.acceleration": 180,
    "cell:axes.swing.stop": 360,
    "cell:axes.swing.radius": 500,
    "cell:legs.swap.moves": ["swing"],
}


def test_a_swing_pulls_along_its_circle_and_to_its_centre() -> None:
    tangential, central = pi * 0.5, (pi / 2) ** 2 * 0.5
    (pull,) = pulls(case(ARM), "swap", "speeding up")
    assert pull == Pull(0, 0, G, pytest.approx(hypot(tangential, central)))
    # `along` is the line that it turns about, and no direction of its pull
    (same,) = pulls(case({**ARM, "cell:axes.swing.along": "y"}), "swap", "speeding up")
    assert same == pull


def test_an_axis_that_turns_with_an_arm_may_pull_anywhere() -> None:
    polar = {**ARM, "cell:legs.swap.moves": ["swing + slide"]}
    facts = case(polar, without=["cell:axes.slide.along"])
    (pull,) = pulls(facts, "swap", "speeding up")
    swing = hypot(pi * 0.5, (pi / 2) ** 2 * 0.5)
    assert pull.anywhere == pytest.approx(swing + 3.0 + 2 * (pi / 2) * 1.5)


def test_an_inch_axis_pulls_as_its_millimetres() -> None:
    facts = case(
        {
            "cell:axes.slide.unit": "in",
            "cell:axes.slide.stop": 100,
        }
    )
    assert pulls(facts, "back", "emergency stop")[1].x == pytest.approx(2.54)


def test_every_leg_and_moment_is_there_and_one_rules() -> None:
    found = hold.figures(case())
    table = by_name(found)
    blank = {at for name, at in table if name.startswith("finger force, ") and "blank" in at}
    assert blank == {"blank", "blank, to_machine", "blank, swap"}
    part = {at for name, at in table if name.startswith("finger force, ") and "part" in at}
    assert part == {"part", "part, swap", "part, back"}
    first, second = ruling(found)
    assert (first.name, first.at) == ("finger force, emergency stop", "blank, to_machine")
    assert second.at == "part, back"
    mass = 3.141592653589793 / 4 * 60.4**2 * 31.5 * 7.85e-6
    assert first.value == pytest.approx(1.5 * mass * (G + 4) / 0.4)  # the lift stops going down
    slow_lift = ruling(hold.figures(case({"cell:axes.lift.stop": 1000})))[0]
    level = hypot(5, G) / 0.4 + 6  # closing along x: y and g across
    assert slow_lift.value == pytest.approx(1.5 * mass * level)


def test_percent_of_speed_and_no_descent_takes_a_leg_below_rest() -> None:
    slow = case({"cell:axes.lift.stop": 1, "cell:legs.swap.moves": ["lift"]})
    at_rest = one(hold.figures(slow), "finger force, at rest", "blank").value or 0
    stop = one(hold.figures(slow), "finger force, emergency stop", "blank, swap").value or 0
    assert stop >= at_rest
    stages = case({"lot.stages": [8, 100]})
    assert [f.value for f in hold.figures(stages)] == [f.value for f in hold.figures(case())]


def test_an_empty_gripper_needs_nothing_and_a_leg_outside_the_round_is_taken_as_loaded() -> None:
    assert not [f for f in hold.figures(case()) if "next" in f.at]
    side = {"cell:legs.side.start": "home", "cell:legs.side.end": "fetch"}
    side |= {"cell:legs.side.moves": ["lift"]}
    assert [f for f in hold.figures(case(side)) if f.at == "blank, side"]


def test_inside_hold_counts_as_flat() -> None:
    rest = "finger force, at rest"
    inside = one(hold.figures(case({"fingers.part.hold": "inside"})), rest, "part").value
    flat = one(hold.figures(case({"fingers.part.form": "flat"})), rest, "part").value
    v = one(hold.figures(case()), rest, "part").value or 0
    assert inside == flat
    assert inside == pytest.approx(v / sin(radians(45)))


def test_loss_of_air_counts_through_the_stop_it_brings() -> None:
    found = hold.figures(case({"fingers.blank.force_without_air": 30}))
    assert one(found, "finger force without air, at rest", "blank").verdict == "tight"
    stop = one(found, "finger force without air, emergency stop", "blank, to_machine")
    assert stop.verdict == "does not fit"
    assert stop.value == ruling(found)[0].value


def test_crush_limit() -> None:
    crushed = hold.figures(case({"fingers.part.crush_limit": 319}))
    assert one(crushed, "finger force on the material", "part").verdict == "does not fit"


def test_tipping() -> None:
    # statics, worked: 2 kg at 10 m/s² with 40 mm standing beside a bite of 20 mm
    assert tipping(2, 10, 60, 20, 1.0) == pytest.approx(0.4)
    assert tipping(2, 10, 20, 20, 1.0) == 0.0
    assert tipping_held(300, 20, 0.2, 90) == pytest.approx(300 * 0.02 * 0.1)
    assert tipping_held(300, 20, 0.9, 90) == pytest.approx(300 * 0.02 / 3)
    assert tipping_held(300, 20, 0.2, 45) == pytest.approx(300 * 0.02 / 3)
    upright = one(hold.figures(case()), "tipping moment", "blank")
    lying = one(hold.figures(case({"cell:stations.seat.out": "x"})), "tipping moment", "blank")
    assert (lying.value or 0) > (upright.value or 0)
    assert "whole pull" in lying.note


def test_a_dry_table_value_is_noticed_and_never_used() -> None:
    note = one(hold.figures(case({"fingers.blank.friction": 0.74})), "friction", "blank").note
    assert "is it for wet" in note
    missing = one(hold.figures(case(without=["fingers.blank.friction"])), "friction", "blank")
    assert missing.missing == ("fingers.blank.friction",)


def test_inches_need_the_same_newtons() -> None:
    mm, inch = by_name(hold.figures(case())), by_name(hold.figures(in_inches()))
    for key, figure in mm.items():
        assert inch[key].value == pytest.approx(figure.value, rel=1e-9)


GRIP = [
    "policy:hold_safety",
    "cell:grippers.a.closing",
    "fingers.blank.friction",
    "fingers.blank.form",
    "fingers.blank.hold",
    "blank.diameter",
    "blank.height",
    "blank.material",
]
LEVEL = ["cell:axes.slide.stop", "cell:axes.bridge.stop", "cell:axes.lift.stop"]
MISSING = {
    ("finger force, at rest", "blank"): [*GRIP, "fingers.blank.force"],
    ("finger force, at rest", "part"): [
        "fingers.part.half_angle",
        "part.mass",
        "cell:grippers.b.closing",
    ],
    ("finger force, speeding up", "blank, to_machine"): [
        *GRIP,
        "fingers.blank.force",
        "cell:axes.slide.acceleration",
        "cell:axes.bridge.acceleration",
        "cell:axes.lift.acceleration",
    ],
    ("finger force, emergency stop", "blank, to_machine"): [*GRIP, *LEVEL, "fingers.blank.force"],
    ("finger force without air, at rest", "blank"): [*GRIP, "fingers.blank.force_without_air"],
    ("finger force without air, emergency stop", "blank, to_machine"): [
        *GRIP,
        "cell:axes.slide.stop",
        "cell:axes.lift.stop",
        "fingers.blank.force_without_air",
    ],
    ("finger force on the material", "blank"): ["fingers.blank.force", "fingers.blank.crush_limit"],
    ("tipping moment", "blank"): [
        "policy:hold_safety",
        "blank.height",
        "blank.material",
        "fingers.blank.bite",
        "fingers.blank.force",
        "fingers.blank.friction",
        "cell:axes.slide.stop",
    ],
    ("friction", "blank"): ["fingers.blank.friction"],
}


@pytest.mark.parametrize(
    ("key", "address"), [(key, address) for key, all_of in MISSING.items() for address in all_of]
)
def test_cannot_tell_names_what_is_missing(key: tuple[str, str], address: str) -> None:
    dropped = [address, "part.shape"] if address == "part.mass" else [address]
    found = hold.figures(case(without=dropped))
    same = [f for f in found if f.name == key[0] and f.at.split(",")[0] == key[1].split(",")[0]]
    figure = next((f for f in same if f.at == key[1]), same[0])
    assert figure.verdict == "cannot tell"
    assert address in figure.missing


def test_without_legs_round_or_cell_nothing_is_said_to_hold() -> None:
    no_legs = case(without=["cell:legs"])
    stop = one(hold.figures(no_legs), "finger force, emergency stop", "blank")
    assert stop.missing == ("cell:legs",)
    for facts in (case(without=["cell:cell.round"]), case(no_cell=True)):
        assert {f.verdict for f in hold.figures(facts)} == {"cannot tell"}


@pytest.mark.parametrize("address", ["fingers.blank.friction", "cell:axes.slide.stop"])
@pytest.mark.parametrize("nonsense", [0, -1])
def test_what_cannot_be_measured_counts_as_missing(address: str, nonsense: int) -> None:
    found = hold.figures(case({address: nonsense}))
    assert [f for f in found if address in f.missing]


def test_a_blank_margin_changes_sign_with_the_verdict() -> None:
    at = ("finger force, at rest", "blank")
    needs = one(hold.figures(case()), *at).value or 0
    for given_force in (needs * 0.99, needs * 1.01, needs * 2):
        figure = one(hold.figures(case({"fingers.blank.force": round(given_force, 6)})), *at)
        assert figure.margin is not None
        assert (figure.margin < 0) == (figure.verdict == "does not fit")
        assert figure.margin == pytest.approx(given_force - needs, abs=1e-5)
