"""Rows of the index: what was packed comes back as it was, and what never was is told."""

from __future__ import annotations

import sqlite3
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.log.canonical_text import spell
from engine.log.decisions import Decided
from engine.log.index_file import Damaged
from engine.log.index_rows import (
    COMPRESSED,
    Change,
    from_word,
    pack_changes,
    pack_ids,
    pack_marks,
    to_word,
    unpack_changes,
    unpack_ids,
    unpack_marks,
)

IDS = st.integers(1, 2**160 - 1).map(lambda n: f"{n:040x}")
ADDRESSES = st.from_regex(r"[a-z0-9_-]+(\.[a-z0-9_-]+){0,3}", fullmatch=True) | st.text(
    st.characters(exclude_categories=["Cs"]), max_size=12
)
SPELT = st.none() | st.text(st.characters(exclude_categories=["Cs"]), max_size=300).map(spell)
DECIDED = st.none() | st.builds(Decided, st.just("") | IDS, IDS)
CHANGES = st.builds(Change, ADDRESSES, SPELT, SPELT, DECIDED)


@given(st.lists(CHANGES, min_size=1, max_size=5))
def test_changes_come_back_in_their_order(rows: list[Change]) -> None:
    assert unpack_changes(pack_changes(rows)) == rows


@pytest.mark.parametrize(
    "address", ['"', '"q', '"a" b', 'a"b', "a\nb", "a\x1fb", "", "\u2028", "ä.ö"]
)
def test_an_address_may_have_any_sign(address: str) -> None:
    """A hand edit may have any key; those between fields must not be taken for ends of one."""
    rows = [Change(address, "1", None), Change("jaws.bite", None, "2")]
    assert unpack_changes(pack_changes(rows)) == rows


def test_no_change_is_nothing_and_many_are_compressed() -> None:
    assert (pack_changes([]), unpack_changes(b"")) == (b"", [])
    few = [Change("jaws.bite", "7.5", None)]
    assert not pack_changes(few).startswith(COMPRESSED)
    many = [Change(f"tools.T{n}.what", None, '"boring bar"') for n in range(40)]
    packed = pack_changes(many)
    assert packed.startswith(COMPRESSED)
    assert len(packed) < 500
    assert unpack_changes(packed) == many


@pytest.mark.parametrize(
    "data",
    [
        b"jaws.bite",  # no values
        b"jaws.bite\x1f7",
        b"jaws.bite\x1f7\x1f8\x1fonly-one-commit",
        b"jaws.bite\x1f7\x1f8\x1fa\x1fb\x1fc",
        b'"jaws\x1f7\x1f8',  # an address that never ends
        b"jaws.\xff\x1f7\x1f8",
        b"\0" + b"no stream",
        b"\0" + zlib.compress(b"jaws.bite\x1f7\x1f8")[:-3],
    ],
)
def test_what_cannot_have_been_packed_is_damage(data: bytes) -> None:
    with pytest.raises(Damaged):
        unpack_changes(data)


@given(st.lists(st.just("") | IDS, max_size=4))
def test_ids_come_back_and_none_is_none(ids: list[str]) -> None:
    packed = pack_ids(ids, 20)
    assert len(packed) == 20 * len(ids)
    assert unpack_ids(packed, 20) == tuple(ids)


def test_an_id_that_begins_or_ends_with_zeros_is_one() -> None:
    ids = ("00" * 19 + "01", "10" + "00" * 19, "", "ff" * 20)
    assert unpack_ids(pack_ids(ids, 20), 20) == ids
    long = ("ab" * 32, "")
    assert unpack_ids(pack_ids(long, 32), 32) == long


@given(st.binary(max_size=12) | st.text(st.characters(exclude_categories=["Cs"])).map(str.encode))
def test_a_path_comes_back_whatever_bytes_git_has_for_it(data: bytes) -> None:
    path = data.decode("utf-8", "surrogateescape")
    word = to_word(path)
    assert from_word(word) == path
    (kept,) = sqlite3.connect(":memory:").execute("SELECT ?", (word,)).fetchone()
    assert from_word(kept) == path


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize("summed", [True, False])
def test_what_is_said_of_a_commit_comes_back(whole: bool, summed: bool) -> None:
    assert unpack_marks(pack_marks(whole=whole, summed=summed)) == (whole, summed)
