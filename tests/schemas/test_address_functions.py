"""Addresses: flattening and growing are inverse, and each function does one thing."""

from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas import address as a

_KEYS = st.from_regex(r"[A-Za-z0-9_-]{1,4}", fullmatch=True)
_VALUES = st.integers() | st.text(max_size=3) | st.lists(st.integers(), max_size=2)
_TREES = st.recursive(
    st.dictionaries(_KEYS, _VALUES, min_size=1, max_size=3),
    lambda inner: st.dictionaries(_KEYS, inner, min_size=1, max_size=3),
    max_leaves=8,
)


@given(_TREES)
def test_growing_what_was_flattened_gives_the_tree(tree):
    assert a.grow(a.flatten(tree)) == tree


@given(_TREES, st.data())
def test_what_is_taken_out_is_gone_and_nothing_else(tree, data):
    values = a.flatten(tree)
    gone = data.draw(st.sampled_from(list(values)))
    a.take_out(tree, gone)
    assert a.flatten(tree) == {k: v for k, v in values.items() if k != gone}
    a.take_out(tree, "not.there")
    assert a.look_up(tree, gone) is None
    a.put(tree, gone, 5)
    assert a.look_up(tree, gone) == 5


@pytest.mark.parametrize(
    ("address", "pattern", "covered"),
    [
        ("positions.seat.reach", "positions.*", True),
        ("positions", "positions.*", False),
        ("positions.seat.reach", "positions", True),
        ("jaws.bite", "*.bite", True),
        ("fingers.blank.bite", "*.bite", False),
        ("fingers.blank.bite", "fingers.*.bite", True),
        ("jawsx.bite", "jaws", False),
        ("offsets.G54.z", "offsets.*", True),
    ],
)
def test_patterns_cover_whole_keys(address, pattern, covered):
    assert a.matches(address, pattern) is covered


def test_lying_in_a_table_goes_by_whole_keys():
    assert a.lies_in("jaws.bite", "jaws")
    assert a.lies_in("jaws", "jaws")
    assert not a.lies_in("jawsx.bite", "jaws")


@pytest.mark.parametrize(
    ("one", "other", "text", "value"),
    [
        (28, Decimal("28"), True, True),
        (28, Decimal("28.0"), False, True),
        (True, 1, False, False),
        (None, "", False, False),
        ("28", 28, False, False),
        ([1, 2], [Decimal("1.0"), 2], False, True),
        (["a, b"], ["a", "b"], False, False),
        ([], [], True, True),
        ([1], [True], False, False),
        (Decimal("-0.0"), Decimal("0.0"), True, True),
        (date(2026, 1, 1), "2026-01-01", False, False),
    ],
)
def test_the_same_text_and_the_same_value(one, other, text, value):
    assert a.same_text(one, other) is text
    assert a.same_text(other, one) is text
    assert a.same_value(one, other) is value


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, ""),
        (True, "yes"),
        (Decimal("104.250"), "104.250"),
        ([Decimal(8), 30], "8, 30"),
        (datetime.fromisoformat("2026-03-02T07:15:00+01:00"), "2026-03-02T07:15:00+01:00"),
        (Decimal("nan"), "nan"),
        (Decimal("1e400"), "1e+400"),
        ("x", "x"),
        (date(2026, 1, 2), "2026-01-02"),
    ],
)
def test_a_value_is_shown_as_typed_and_never_fails(value, shown):
    assert a.show(value) == shown


def test_people_count_t9_before_t10():
    assert sorted(["T10", "T9", "T1", "T01", "x"], key=a.natural) == ["T01", "T1", "T9", "T10", "x"]
