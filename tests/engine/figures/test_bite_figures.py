"""Free height: what is left between jaws and fingers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import bite
from tests.engine.figures.mill_case import by_name, case, in_inches, one


def test_free_height_of_blank_and_part_with_their_own_fingers() -> None:
    found = bite.figures(case({"fingers.part.bite": 12}))
    assert one(found, "free height", "blank").value == pytest.approx(31.5 - 7.5 - 9)
    assert one(found, "free height", "part").value == pytest.approx(29.8 - 7.5 - 12)
    assert one(found, "stick-out", "blank").value == pytest.approx(24.0)
    assert one(found, "stick-out", "part").value == pytest.approx(22.3)


def test_a_height_exactly_at_the_limit_fits() -> None:
    # 0.3 is no sum of 0.1 and 0.2 in floats
    exact = {"blank.height": 0.6, "jaws.bite": 0.1, "fingers.blank.bite": 0.2}
    figure = one(
        bite.figures(case({**exact, "policy:free_height_least": 0.3})), "free height", "blank"
    )
    assert figure.margin == 0
    assert figure.verdict == "tight"


def test_one_outside_and_one_inside_do_not_meet() -> None:
    inside = {"fingers.blank.hold": "inside", "fingers.blank.bite": 30}
    figure = one(bite.figures(case(inside)), "free height", "blank")
    assert figure.verdict == "for information"
    assert (figure.value or 0) < 0
    both = {**inside, "jaws.inside_or_outside": "inside"}
    assert one(bite.figures(case(both)), "free height", "blank").verdict == "does not fit"


def test_inches() -> None:
    mm, inch = by_name(bite.figures(case())), by_name(bite.figures(in_inches()))
    assert {k: f.value for k, f in inch.items()} == pytest.approx(
        {k: f.value for k, f in mm.items()}
    )
    assert inch["free height", "blank"].margin == pytest.approx(13.0)


@given(st.integers(1, 9000), st.integers(0, 3000), st.integers(0, 3000))
def test_margin_changes_sign_with_the_verdict(height: int, jaws: int, own: int) -> None:
    changes = {"blank.height": height / 100, "jaws.bite": jaws / 100}
    figure = one(
        bite.figures(case({**changes, "fingers.blank.bite": own / 100})), "free height", "blank"
    )
    assert figure.margin == pytest.approx((height - jaws - own) / 100 - 2)
    assert (figure.margin < 0) == (figure.verdict == "does not fit")


@pytest.mark.parametrize(
    ("name", "at", "address"),
    [
        ("free height", "blank", "blank.height"),
        ("free height", "blank", "jaws.bite"),
        ("free height", "blank", "fingers.blank.bite"),
        ("free height", "blank", "policy:free_height_least"),
        ("free height", "part", "part.height"),
        ("free height", "part", "jaws.bite"),
        ("free height", "part", "fingers.part.bite"),
        ("stick-out", "blank", "blank.height"),
        ("stick-out", "part", "part.height"),
        ("stick-out", "part", "jaws.bite"),
    ],
)
def test_cannot_tell(name: str, at: str, address: str) -> None:
    figure = one(bite.figures(case(without=[address])), name, at)
    assert figure.verdict == "cannot tell"
    assert figure.missing == (address,)


def test_without_a_rule_only_what_runs_into_each_other_does_not_fit() -> None:
    rule = ["policy:free_height_least"]
    meets = one(bite.figures(case({"jaws.bite": 25}, without=rule)), "free height", "blank")
    assert meets.verdict == "does not fit"
    assert one(bite.figures(case(without=rule)), "free height", "blank").value == 15.0
