"""Each input taken out in turn: nothing fails, nothing is guessed, what is missing is named."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from engine.figures import bite, clamp, fingers, hold, mass, tray, tray_fit
from engine.figures.model import Facts, Figure
from tests.engine.figures.mill_case import by_name, case, inputs

GROUPS = (mass, clamp, bite, fingers, hold, tray, tray_fit)

# Taken out, these leave another true value: a braking is then as the acceleration, a leg
# without moves has all axes in one, an axis without direction may pull anywhere, a pocket
# is no longer unused, a part without a mass is worked out, and so on.
MAY_BE_LEFT_OUT = {
    "cell:axes.slide.along",
    "cell:axes.bridge.along",
    "cell:axes.lift.along",
    "cell:axes.slide.braking",
    "cell:axes.bridge.braking",
    "cell:axes.lift.braking",
    "cell:cell.payload_most",
    "cell:legs.to_machine.moves",
    "cell:legs.swap.moves",
    "cell:legs.back.moves",
    "cell:legs.next.moves",
    "part.held",
    "part.mass",
    "part.shape",
    "tray.unused",
}


def figures(facts: Facts) -> dict[tuple[str, str], Figure]:
    return by_name(figure for group in GROUPS for figure in group.figures(facts))


WHOLE = figures(case())


def test_the_whole_case_misses_nothing() -> None:
    assert {f.verdict for f in WHOLE.values()} <= {"fits", "tight", "for information"}
    assert not [f for f in WHOLE.values() if f.missing]


@pytest.mark.parametrize("address", inputs())
def test_nothing_is_guessed(address: str) -> None:
    try:
        found = figures(case(without=[address]))
    except ValidationError:
        return  # the file cannot be read without it
    for key, figure in found.items():
        if figure.missing:
            assert figure.verdict == "cannot tell"
            assert figure.margin is None
        elif key in WHOLE and address not in MAY_BE_LEFT_OUT:
            assert figure.value == WHOLE[key].value
            assert figure.limit in (None, WHOLE[key].limit)  # a part without its blank's mass
    if WHOLE.keys() - found.keys() and address not in MAY_BE_LEFT_OUT:
        assert any(figure.missing for figure in found.values())


@pytest.mark.parametrize("rule", [a for a in inputs() if a.startswith("policy:")])
def test_a_shop_without_the_rule_cannot_tell(rule: str) -> None:
    if rule == "policy:agreement_tolerance":
        return  # nothing was taught in this case
    found = figures(case(without=[rule]))
    assert [f for f in found.values() if rule in f.missing]


def test_an_empty_record_fails_nowhere() -> None:
    tables = ("program", "jaws", "blank", "part", "fingers", "tray", "positions")
    found = figures(case(without=tables))
    assert {f.verdict for f in found.values()} <= {"cannot tell", "for information"}
    alone = figures(case(without=tables, no_cell=True))
    assert {f.verdict for f in alone.values()} == {"cannot tell"}


@pytest.mark.parametrize("address", inputs())
def test_zero_fails_nowhere(address: str) -> None:
    try:
        figures(case({address: 0}))
        figures(case({address: -1}))
    except ValidationError:
        return
