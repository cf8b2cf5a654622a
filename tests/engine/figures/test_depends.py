"""What a figure follows from: found by trying, so compared with trying everything here.

Source: worked from the formulas in words; no published case.
"""

from __future__ import annotations

import pytest

from engine.figures import all_figures
from engine.figures.depends import PARTS, inputs_of, numbers, touched_by
from engine.figures.groups import bite, clamp, clear, mass
from engine.figures.model import Facts, Figure
from tests.engine.figures.mill_case import case, one


def _addresses(facts: Facts, figure: Figure) -> tuple[set[str], set[str]]:
    """Inputs of the value alone, and of the limit."""
    found = [each for part in PARTS for each in inputs_of(facts, figure, part)]
    limit = {each.address for each in found if each.of_limit}
    return {each.address for each in found} - limit, limit


def test_free_height_follows_from_a_height_and_two_bites() -> None:
    facts = case({})
    figure = one(bite.figures(facts), "free height", "blank")
    assert _addresses(facts, figure) == (
        {"blank.height", "jaws.bite", "fingers.blank.bite"},
        {"policy:free_height_least"},
    )


def test_what_counts_only_if_others_were_different_is_not_named() -> None:
    weighed = case({"blank.mass": 1.25})
    figure = one(mass.figures(weighed), "blank mass")
    assert _addresses(weighed, figure)[0] == {"blank.mass"}  # no height, no diameter


def test_a_limit_may_follow_from_the_record() -> None:
    facts = case({})
    figure = next(f for f in clamp.figures(facts) if f.name == "jaw force, least")
    assert "jaws.force_least" in _addresses(facts, figure)[1]


def test_a_missing_value_is_no_input_and_stops_nothing() -> None:
    facts = case({"jaws.bite": None})
    figure = one(bite.figures(facts), "free height", "blank")
    assert figure.verdict == "cannot tell"
    assert "jaws.bite" not in _addresses(facts, figure)[0]


def test_nothing_is_changed_in_place() -> None:
    facts = case({})
    before = [dict(numbers(getattr(facts, part))) for part in PARTS]
    for figure in all_figures(facts)[:12]:
        _addresses(facts, figure)
    assert [dict(numbers(getattr(facts, part))) for part in PARTS] == before


def test_both_ways_agree() -> None:
    facts = case({})
    names = touched_by(facts, "jaws.bite")
    assert {"free height", "stick-out"} <= set(names)
    for figure in (*bite.figures(facts), *clear.figures(facts), *clamp.figures(facts)):
        inputs = {each.address for each in inputs_of(facts, figure, "record")}
        assert "jaws.bite" not in inputs or figure.name in names


@pytest.mark.parametrize("address", ["jaws.place", "nowhere.at_all", "jaws.inside_or_outside"])
def test_only_numbers_are_tried(address: str) -> None:
    assert touched_by(case({}), address) == []
