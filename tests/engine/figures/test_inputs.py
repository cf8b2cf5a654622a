"""What a figure asked for is what it follows from: held against trying every number.

Source: worked from the formulas in words; no published case.
"""

from __future__ import annotations

import pytest

from engine.figures import all_figures, figures_from, inputs_of
from engine.figures.groups import bite, clamp, mass
from engine.figures.inputs import Facts, Missing, addresses_in
from engine.figures.kinds import Figure
from schemas.address import lies_in
from tests.demo_book import demo_facts
from tests.engine.figures import a_gantry
from tests.engine.figures.mill_case import case, one
from tests.engine.figures.perturbing import differs, near, numbers, with_value


def _addresses(facts: Facts, figure: Figure) -> tuple[set[str], set[str]]:
    """Inputs of the value alone, and of the limit."""
    found = inputs_of(facts, figure)
    limit = {each.address for each in found if each.of_limit}
    return {each.address for each in found} - limit, limit


def test_free_height_follows_from_a_height_and_two_bites() -> None:
    facts = case({})
    figure = one(bite.figures(facts), "free height", "blank")
    assert _addresses(facts, figure) == (
        {"blank.height", "jaws.bite", "fingers.blank.bite"},
        {"policy:free_height_least"},
    )


def test_texts_and_choices_are_recorded_but_not_listed() -> None:
    facts = case({})
    figure = one(bite.figures(facts), "free height", "blank")
    assert "record.units" in {each.address for each in figure.inputs()}
    assert "record.units" not in {each.address for each in inputs_of(facts, figure)}


def test_a_mass_on_the_scales_asks_for_no_size() -> None:
    weighed = case({"blank.mass": 1.25})
    figure = one(mass.figures(weighed), "blank mass")
    assert _addresses(weighed, figure)[0] == {"blank.mass"}


def test_what_does_not_count_at_present_is_named_too() -> None:
    facts = a_gantry.facts(
        {"record:lot.machining_seconds": 4000}
    )  # the loader's work is hidden behind it
    figure = one(all_figures(facts), "cycle", "full speed")
    assert {"lot.machining_seconds", "cell:axes.lift.speed"} <= _addresses(facts, figure)[0]


def test_a_limit_may_follow_from_the_record() -> None:
    facts = case({})
    figure = one(clamp.figures(facts), "jaw force, least")
    assert "jaws.force_least" in _addresses(facts, figure)[1]


def test_without_a_rule_the_value_is_no_input_of_the_limit() -> None:
    facts = case({"fingers.blank.bite": 40}, without=["policy:free_height_least"])
    figure = one(bite.figures(facts), "free height", "blank")
    assert (figure.limit, figure.verdict) == (0.0, "does not fit")
    assert "blank.height" not in _addresses(facts, figure)[1]


def test_what_was_asked_and_absent_is_what_is_missing() -> None:
    facts = case({}, without=["jaws.bite", "blank.height"])
    figure = one(bite.figures(facts), "free height", "blank")
    assert figure.missing == ("blank.height", "jaws.bite")
    assert set(figure.missing) <= {each.address for each in figure.inputs()}
    assert "jaws.bite" not in _addresses(facts, figure)[0]


@pytest.mark.parametrize(
    "facts", [case({}, no_cell=True), case({}, without=["cell:axes.lift.speed"])]
)
def test_whatever_is_missing_was_asked(facts: Facts) -> None:
    for figure in all_figures(facts):
        assert set(figure.missing) <= {each.address for each in figure.inputs()}


def test_shared_work_hands_its_questions_to_everybody() -> None:
    facts = case({})

    def ask() -> float:
        return facts.once("shared", lambda: facts.number("jaws.bite"))

    trails = [facts.attempt(ask).asked for _ in range(2)]
    assert [addresses_in(trail) for trail in trails] == [("jaws.bite",), ("jaws.bite",)]


def test_shared_work_that_misses_something_hands_that_on_too() -> None:
    facts = case({}, without=["jaws.bite"])

    def ask() -> float:
        return facts.once("shared", lambda: facts.number("jaws.bite"))

    for _ in range(2):
        found = facts.attempt(ask)
        assert (found.missing, addresses_in(found.asked)) == (("jaws.bite",), ("jaws.bite",))


def test_a_fault_leaves_the_recording_as_it_was() -> None:
    facts = case({})
    with pytest.raises(ZeroDivisionError):
        facts.attempt(lambda: facts.number("jaws.bite") / 0)
    assert addresses_in(facts.attempt(lambda: facts.number("blank.height")).asked) == (
        "blank.height",
    )


def test_what_is_kept_for_a_cell_is_recorded_for_the_next_record() -> None:
    first = case({})
    before = {(f.name, f.at): f.inputs() for f in all_figures(first)}
    second = Facts(first.record, first.cell, first.policy)
    assert {(f.name, f.at): f.inputs() for f in all_figures(second)} == before


@pytest.mark.parametrize("facts", [case({}), a_gantry.facts(), demo_facts("bearing-foot-op10")])
def test_figures_read_nothing_but_by_asking(facts: Facts) -> None:
    before = all_figures(facts)
    blind = Facts(facts.record, facts.cell, facts.policy)
    for name in ("record", "cell", "policy"):
        object.__delattr__(blind, name)
    assert all_figures(blind) == before


@pytest.mark.parametrize(
    "facts",
    [case({}), a_gantry.facts(), demo_facts("seal-carrier-op20"), demo_facts("bearing-foot-op10")],
    ids=["mill", "gantry", "demo lathe", "demo mill"],
)
def test_a_number_that_was_not_asked_for_changes_nothing(facts: Facts) -> None:
    before = {(f.name, f.at): f for f in all_figures(facts)}
    asked = {key: {each.address for each in f.inputs()} for key, f in before.items()}
    seen = 0
    for address, value in numbers(facts):
        for tried in (next(near(value)), None):
            for after in all_figures(with_value(facts, address, tried)):
                key = after.name, after.at
                if key in before and differs(before[key], after):
                    seen += 1
                    assert address in asked[key], (key, address, tried)
    assert seen > 500  # it was tried indeed


def test_both_ways_agree() -> None:
    facts = case({})
    found = all_figures(facts)
    asked = {address for f in found for address in (each.address for each in f.inputs())}
    for address in ("jaws.bite", "cell:axes.lift.speed", "policy:web_least", "jaws.id"):
        names = figures_from(found, address)
        assert set(names) == {
            f.name for f in found if address in {each.address for each in f.inputs()}
        }
        assert bool(names) == (address in asked)


def test_what_a_value_does_is_told_in_the_order_of_the_figures() -> None:
    names = figures_from(all_figures(case({})), "jaws.bite")
    assert names == ["free height", "stick-out", "rise before sideways"]


@pytest.mark.parametrize("address", ["jaws.place", "nowhere.at_all"])
def test_what_nobody_asks_for_does_nothing(address: str) -> None:
    assert figures_from(all_figures(case({})), address) == []


def test_every_kind_says_where_to_look_first() -> None:
    for figure in all_figures(case({})):
        assert figure.kind.section
        assert lies_in(figure.look_at, figure.kind.section), figure
        assert lies_in(figure.look_at, figure.look_at.partition(".")[0])


def test_missing_names_its_addresses() -> None:
    assert str(Missing("jaws.bite", "cell:bed.path")) == "jaws.bite, cell:bed.path"
