"""No input is ever guessed: whatever is taken away, one by one, is named or is not needed.

Every address of record, cell and policy is removed once. Nothing may fail, and a
figure that can no longer be told must name what was taken away. Hostile numbers
in its place may not fail either.
"""

from __future__ import annotations

import math

import pytest
from pydantic import ValidationError

from engine.figures.groups import agreement, clear, cycle, lot, motion, reach
from schemas.address import flatten, lies_in
from tests.engine.figures.a_gantry import CELL, POLICY, RECORD, facts

GROUPS = (motion, cycle, lot, agreement, clear, reach)
TREES = {"record": RECORD, "cell": CELL, "policy": POLICY}
EVERY = [f"{tree}:{address}" for tree, values in TREES.items() for address in flatten(values)]


def readable(address):
    """Whether a file can do without the address at all."""
    try:
        facts(drop=[address])
    except ValidationError:
        return False
    return True


def told(base):
    return {(f.group, f.name, f.at): f for group in GROUPS for f in group.figures(base)}


BASE = told(facts())


def test_the_gantry_misses_nothing():
    assert not [f for f in BASE.values() if f.missing]
    assert all(f.value is not None and math.isfinite(f.value) for f in BASE.values())


def test_every_figure_says_where_it_comes_from():
    for figure in BASE.values():
        assert figure.kind.formula
        assert figure.kind.source
        assert figure.unit == figure.kind.unit
        assert (figure.margin is None) == (figure.verdict in ("for information", "cannot tell"))
        if figure.margin is not None:
            assert (figure.margin < 0) == (figure.verdict == "does not fit")


@pytest.mark.parametrize("address", [one for one in EVERY if readable(one)])
def test_what_is_taken_away_is_named(address):
    base = facts(drop=[address])
    name = address.removeprefix("record:")
    for key, figure in told(base).items():
        if not figure.missing:
            assert figure.value is not None
            continue
        assert figure.verdict == "cannot tell"
        assert figure.margin is None
        near = [one for one in figure.missing if lies_in(one, name) or lies_in(name, one)]
        stands_for = "round" in name or "axes" in name or name.startswith("cell:stations")
        assert near or stands_for, (key, figure.missing)


@pytest.mark.parametrize("value", [0, -1, 10**24 - 1])
@pytest.mark.parametrize("address", EVERY)
def test_hostile_numbers_never_fail(address, value):
    try:
        base = facts({address: value})
    except ValidationError:
        return
    for figure in told(base).values():
        assert figure.value is None or math.isfinite(figure.value), figure


def test_an_empty_record_on_an_empty_cell():
    bare = {"format": 2, "record": RECORD["record"]}
    empty = facts(record=bare, cell={"format": 1, "cell": {"name": "x"}}, policy={})
    found = told(empty).values()
    assert {f.group for f in found} >= {"motion", "cycle", "lot", "clear", "reach"}
    assert {f.verdict for f in found} == {"cannot tell"}
