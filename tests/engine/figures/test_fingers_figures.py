"""Clearance of open fingers and squeeze of closed ones, outside and inside."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import fingers
from engine.figures.groups.fingers import clearance, squeeze
from tests.engine.figures.mill_case import by_name, case, in_inches, one

INSIDE = {"fingers.part.hold": "inside", "part.held": 30}
lengths = st.floats(0.1, 500)


def test_outside_largest_for_clearance_smallest_for_squeeze() -> None:
    found = fingers.figures(case())
    assert one(found, "clearance a side", "blank").value == pytest.approx((68 - 60.4) / 2)
    assert one(found, "squeeze left", "blank").value == pytest.approx(59.6 - 52)
    assert one(found, "clearance a side", "part").value == pytest.approx((64 - 56) / 2)
    assert one(found, "squeeze left", "part").value == pytest.approx(56 - 50)


@pytest.mark.parametrize(("opening", "closed"), [(25, 34), (34, 25)])
def test_inside_is_the_mirror_however_the_record_names_it(opening: int, closed: int) -> None:
    sizes = {"fingers.part.opening": opening, "fingers.part.closed_limit": closed}
    found = fingers.figures(case({**INSIDE, **sizes}))
    assert one(found, "clearance a side", "part").value == pytest.approx(2.5)
    assert one(found, "squeeze left", "part").value == pytest.approx(4.0)


def test_inside_a_blank_smallest_for_clearance_largest_for_squeeze() -> None:
    assert clearance(25, 34, (29, 31), inside=True) == 2.0
    assert squeeze(25, 34, (29, 31), inside=True) == 3.0


@given(lengths, lengths, lengths, lengths, lengths)
def test_mirroring_all_lengths_swaps_inside_and_outside(
    opening: float, closed: float, small: float, large: float, mirror: float
) -> None:
    opening, closed = max(opening, closed), min(opening, closed)
    small, large = min(small, large), max(small, large)
    m = mirror + 1000
    size = (m - large, m - small)
    assert clearance(m - opening, m - closed, size, inside=True) == pytest.approx(
        clearance(opening, closed, (small, large), inside=False), abs=1e-9
    )
    assert squeeze(m - opening, m - closed, size, inside=True) == pytest.approx(
        squeeze(opening, closed, (small, large), inside=False), abs=1e-9
    )


def test_the_held_size() -> None:
    held = fingers.figures(case({"blank.held": [40, 42]}))
    assert one(held, "clearance a side", "blank").value == pytest.approx(13)
    assert one(held, "squeeze left", "blank").value == pytest.approx(-12)
    assert one(held, "squeeze left", "blank").verdict == "does not fit"
    block = {"blank.shape": "block", "blank.width": [50, 51], "blank.length": [80, 81]}
    found = fingers.figures(case({**block, "fingers.blank.closed_limit": 45}))
    assert one(found, "clearance a side", "blank").value == pytest.approx(8.5)
    assert one(found, "squeeze left", "blank").value == pytest.approx(5)
    bore = case(
        {"fingers.part.hold": "inside", "part.bore": 30, "fingers.part.opening": 25},
        without=["part.held"],
    )
    assert one(fingers.figures(bore), "clearance a side", "part").value == pytest.approx(2.5)


def test_one_set_of_fingers_for_both() -> None:
    both = {
        f"fingers.both.{k}": v
        for k, v in (("hold", "outside"), ("opening", 70), ("closed_limit", 50))
    }
    found = fingers.figures(case(both, without=["fingers.blank", "fingers.part"]))
    assert one(found, "clearance a side", "blank").value == pytest.approx((70 - 60.4) / 2)
    assert one(found, "clearance a side", "part").value == pytest.approx(7)


def test_inches() -> None:
    mm, inch = by_name(fingers.figures(case())), by_name(fingers.figures(in_inches()))
    for key, figure in mm.items():
        assert inch[key].value == pytest.approx(figure.value)
        assert inch[key].limit == figure.limit  # the policy is always mm


@given(st.integers(5000, 7000))
def test_margin_changes_sign_with_the_verdict(opening: int) -> None:
    found = fingers.figures(case({"fingers.blank.opening": opening / 100}))
    figure = one(found, "clearance a side", "blank")
    assert figure.margin == pytest.approx((opening / 100 - 60.4) / 2 - 2)
    assert (figure.margin < 0) == (figure.verdict == "does not fit")


@pytest.mark.parametrize("at", ["blank", "part"])
@pytest.mark.parametrize("name", ["clearance a side", "squeeze left"])
@pytest.mark.parametrize("last", ["opening", "closed_limit", "hold"])
def test_cannot_tell(at: str, name: str, last: str) -> None:
    address = f"fingers.{at}.{last}"
    figure = one(fingers.figures(case(without=[address])), name, at)
    assert figure.verdict == "cannot tell"
    assert figure.missing == (address,)


def test_cannot_tell_without_sizes_or_rules() -> None:
    found = fingers.figures(case(without=["blank.diameter", "policy:squeeze_least"]))
    assert one(found, "clearance a side", "blank").missing == ("blank.diameter",)
    assert one(found, "squeeze left", "blank").missing == (
        "blank.diameter",
        "policy:squeeze_least",
    )
    inside = fingers.figures(case({"fingers.blank.hold": "inside"}))
    assert one(inside, "squeeze left", "blank").missing == ("blank.held",)
    part = fingers.figures(case(without=["part.held", "part.diameter"]))
    assert one(part, "squeeze left", "part").missing == ("part.diameter",)
