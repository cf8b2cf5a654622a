"""What was read is written back to the byte, and one value is one line."""

import difflib
from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from schemas.address import flatten, grow, put, same_value
from schemas.document import MODELS, check_tree, read_document
from schemas.errors import ReadError
from schemas.toml import read_value, spell_value
from tests.mini_book import files
from tests.schemas.any_document import PATHS, trees

_KINDS = sorted(MODELS)
_OF_A_FORM = {
    "format",
    "record.id",
    "sign_off.commit",
    "sign_off.record",
    "run.commit",
    "run.record",
}


@pytest.mark.parametrize("kind", _KINDS)
def test_any_document_is_written_back_to_the_byte(kind):
    @given(trees(kind))
    def check(tree):
        document = check_tree(tree, PATHS[kind])
        again = read_document(document.bytes, PATHS[kind])
        assert again.bytes == document.bytes
        assert again.values == document.values
        assert flatten(grow(again.values)) == again.values
        assert check_tree(grow(again.values), PATHS[kind]).bytes == document.bytes
        given_values = flatten(tree)
        assert all(same_value(document.values[a], v) for a, v in given_values.items() if v != {})

    check()


def _other(value, draw):
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + draw(st.integers(1, 9))
    if isinstance(value, Decimal):
        return value + draw(st.sampled_from([Decimal(1), Decimal("0.001"), Decimal("-250.5")]))
    if isinstance(value, str):
        return value + draw(st.sampled_from(["x", '"', "\\", " "]))
    if isinstance(value, datetime):
        return value.replace(year=value.year - 1, day=1)
    if isinstance(value, date):
        return date(value.year - 1 if value.year > 1 else 2, 1, 1)
    return None


@pytest.mark.parametrize("kind", _KINDS)
def test_a_change_of_one_value_is_a_change_of_one_line(kind):
    @given(trees(kind), st.data())
    def check(tree, data):
        document = check_tree(tree, PATHS[kind])
        free = [a for a in document.values if a not in _OF_A_FORM and not a.endswith("sha256")]
        assume(free)
        address = data.draw(st.sampled_from(free))
        value = document.values[address]
        if isinstance(value, list):
            assume(value)
            fresh = [*value[:-1], _other(value[-1], data.draw)]
        else:
            fresh = _other(value, data.draw)
        changed = grow(document.values)
        put(changed, address, fresh)
        try:
            after = check_tree(changed, PATHS[kind])
        except ReadError:
            assume(False)
        diff = list(
            difflib.unified_diff(
                document.bytes.decode().split("\n"),
                after.bytes.decode().split("\n"),
                lineterm="",
                n=0,
            )
        )[2:]
        assert [line[0] for line in diff] == ["@", "-", "+"], diff

    check()


def test_the_demo_and_the_little_book_are_canonical():
    for path, data in files().items():
        if path.endswith(".toml"):
            assert read_document(data, path).bytes == data, path


@given(trees("record"))
def test_a_value_in_the_journal_comes_back_as_it_was(tree):
    for value in check_tree(tree, "records/a.toml").values.values():
        text = spell_value(value)
        assert "\n" not in text
        back = read_value(text)
        assert same_value(back, value)
        assert spell_value(back) == text


def test_absent_sections_are_empty_sections():
    tree = {"format": 2, "record": {"id": "wm-abcdef", "part": "x", "cell": "c", "units": "mm"}}
    model = check_tree(tree, "records/a.toml").model
    assert model.lot.stages is None
    assert model.program.file is None
    assert model.fingers == {}
    book = check_tree({"format": 1, "book": {"name": "x", "id": "y"}}, "book.toml").model
    assert book.program_roots() == ["programs"]
    assert book.policy.reason_for is None


def test_keyed_tables_stand_in_the_order_that_people_count_in():
    tree = {
        "format": 2,
        "record": {"id": "wm-abcdef", "part": "x", "cell": "c", "units": "mm"},
        "tools": {name: {"length": 1} for name in ("T10", "T9", "T09", "T1", "A2")},
    }
    document = check_tree(tree, "records/a.toml")
    assert list(document.tree["tools"]) == ["A2", "T1", "T09", "T9", "T10"]
