"""What a merge tells of what does not stand: no more and no less; worked by hand, no source."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from engine.log.commits import Saved
from engine.log.side_past import SidePast
from engine.merge.books import Side, merge_books
from engine.merge.documents import together
from engine.merge.three_way import group_in_record, join
from engine.views import Who
from schemas.address import flatten
from schemas.document import check_tree
from tests.engine.merge.test_merge_of_books import SEAT, Desk, Texts
from tests.mini_book import cell_tree
from tests.shop_floor import START

MOVED = "records/moved.toml"


class Did(SidePast):
    """A side on which a record was put at some paths, and somebody changed some addresses."""

    def __init__(self, paths: Iterable[str] = (), addresses: Iterable[str] = ()) -> None:
        super().__init__()
        self._where, self._what = frozenset(paths), frozenset(addresses)
        self.by: Saved | None = None

    def paths(self, key: str) -> frozenset[str]:
        return self._where

    def addresses(self, key: str) -> frozenset[str]:
        return self._what

    def who(self, *_: object) -> Saved | None:
        return self.by


def saved(name: str, reason: str) -> Saved:
    return Saved(name.lower() * 20, (), Who(name, name), START, "", reason, "ink", "", True)


@pytest.fixture
def desk() -> Desk:
    return Desk()


# values


def test_what_was_put_in_and_taken_out_again_takes_part_though_neither_side_has_it() -> None:
    """It belongs together with what the other side changed, so nobody can tell who is right."""
    base, shared = {"jaws.bite": 1}, {"jaws.bite": 2}
    here = (frozenset({"jaws.height"}), frozenset[str]())
    assert join([base], base, shared, group_in_record).contested == []
    assert join([base], base, shared, group_in_record, here).contested == ["jaws.bite"]
    there = (here[1], here[0])
    done = join([base], shared, base, group_in_record, there)
    assert (done.values, done.contested) == ({"jaws.bite": 1}, ["jaws.bite"])


def test_each_value_that_the_other_side_took_out_is_told() -> None:
    """The entries stay on both sides, so each value is looked at by itself."""
    names = [f"tools.T{n}.what" for n in (1, 2)]
    base = {"tools.T1.length": 1, "tools.T2.length": 1} | dict.fromkeys(names, "drill 5")
    ours = base | dict.fromkeys(names, "drill 6")
    shared = {address: value for address, value in base.items() if address not in names}
    done = join([base], ours, shared, group_in_record)
    assert (done.yielded, done.contested, done.kept) == (names, names, [])
    assert done.values == ours


@pytest.mark.parametrize("swapped", [False, True])
def test_of_an_entry_that_stays_only_what_is_in_it_is_named(swapped: bool) -> None:
    """What whoever changed it took out of it themselves is gone, and no news."""
    base = {"tools.T1.what": "drill 5", "tools.T1.length": 1, "tools.T1.note": "x"}
    left = {"tools.T1.what": "drill 6", "tools.T1.note": "x"}
    ours, shared = ({}, left) if swapped else (left, {})
    own = frozenset({"tools.T1.length"}), frozenset[str]()
    done = join([base], ours, shared, group_in_record, own[::-1] if swapped else own)
    assert (done.values, done.kept) == (left, ["tools.T1.what", "tools.T1.note"])


@pytest.mark.parametrize(
    ("key", "one", "other", "near"),
    [
        ("wm-a", "jaws.bite", "positions.seat.lift", True),
        ("wm-a", "jaws.bite", "notes.text", False),
        ("wm-a", "program.file", "program.sha256", True),
        ("wm-a", "photos.jaws.file", "photos.jaws.sha256", True),
        ("wm-a", "photos.jaws.file", "photos.tray.file", False),
        ("wm-a", "notes.text", "lot.quantity", False),
        ("wm-a", "tools.T1.what", "tools.T1.length", True),
        ("wm-a", "tools.T1.what", "tools.T2.what", False),
        ("wm-a", "tools.T1.what", "tools.T10.what", False),
        ("cells/lathe", "axes.lift.speed", "axes.lift.least", True),
        ("cells/lathe", "axes.lift.speed", "axes.reach.speed", False),
        ("cells/lathe", "jaws.bite", "positions.seat.lift", False),
        ("people", "people.mira.roles", "people.mira.logins", True),
    ],
)
def test_what_stands_or_falls_with_what(key: str, one: str, other: str, near: bool) -> None:
    """Only a record has what fits together physically."""
    assert together(key, one)(other) == near
    assert together(key, other)(one) == near


# words


def test_of_two_values_none_was_taken_out(desk: Desk) -> None:
    ours = {SEAT: desk.record(lot__quantity=5)}
    done = desk.merge({SEAT: desk.record()}, ours, {SEAT: desk.record(lot__quantity=6)})
    assert len(done.contests) == 1
    assert done.said == []


@pytest.mark.parametrize("out", ["ours", "shared"])
def test_a_value_that_was_taken_out_and_changed_is_said_to_stay(desk: Desk, out: str) -> None:
    gone, changed = desk.record(notes__text=None), desk.record(notes__text="twice")
    ours, shared = (gone, changed) if out == "ours" else (changed, gone)
    done = desk.merge({SEAT: desk.record()}, {SEAT: ours}, {SEAT: shared})
    (said,) = done.said
    assert said == (
        "seat: notes.text was taken out on one side and changed on the other: it stays, changed"
    )


@pytest.mark.parametrize("out", ["here", "there"])
def test_who_took_it_out_and_who_changed_it_are_not_mixed_up(desk: Desk, out: str) -> None:
    gone, changed = desk.record(notes__text=None), desk.record(notes__text="twice")
    ours, shared = (gone, changed) if out == "here" else (changed, gone)
    here, there = Did(), Did()
    here.by, there.by = saved("Mira", "mine\n to say"), saved("Ole", "")
    sides = Side({SEAT: ours}, here), Side({SEAT: shared}, there)
    done = merge_books(Texts(desk.blobs), [{SEAT: desk.record()}], *sides)  # type: ignore[arg-type]
    mira, ole = "(Mira, miramirami: mine to say)", "(Ole, oleoleoleo)"
    one, other = (mira, ole) if out == "here" else (ole, mira)
    assert done.said == [
        f"seat: notes.text was taken out on one side {one} and changed on the other {other}: it "
        "stays, changed"
    ]


def test_a_text_that_was_only_brought_to_another_format_is_unchanged(desk: Desk) -> None:
    new = desk.record()
    text = desk.blobs.blob(new).replace(b"format = 2", b"format = 1")
    base = {SEAT: desk.blobs.put(text)}
    for path, ours, shared in ((SEAT, {SEAT: new}, {}), (SEAT, {}, {SEAT: new})):
        done = desk.merge(base, ours, shared)
        assert desk.result(ours, done) == {}
        assert [words.endswith(", unchanged since") for words in done.said] == [True], path
    changed = desk.blobs.put(text.replace(b"quantity = 130", b"quantity = 5"))
    done = desk.merge(base, {SEAT: new}, {SEAT: changed})
    assert (desk.result({SEAT: new}, done), done.contests) == ({SEAT: changed}, [])
    commented = desk.blobs.put(desk.blobs.blob(new) + b"# by hand\n")
    done = desk.merge(base, {SEAT: commented}, {})
    assert desk.result({SEAT: commented}, done) == {SEAT: commented}, "a comment is a change"


@pytest.mark.parametrize("path", ["cells/lathe.toml", "people.toml", "book.toml"])
def test_there_and_back_counts_in_every_document_with_values(desk: Desk, path: str) -> None:
    tree, address, value = {
        "cells/lathe.toml": (cell_tree("Lathe"), "cell.name", "East lathe"),
        "people.toml": ({"format": 1, "people": {"mira": {"name": "Mira", "roles": []}}},
                        "people.mira.name", "Mira F."),
        "book.toml": ({"format": 1, "book": {"name": "Shop", "id": "shop"}}, "book.name", "Hall"),
    }[path]  # fmt: skip
    base = desk.blobs.put(check_tree(tree, path).bytes)
    was = str(flatten(tree)[address])  # type: ignore[arg-type]
    text = desk.blobs.blob(base).replace(f'"{was}"'.encode(), f'"{value}"'.encode())
    changed = desk.blobs.put(text)
    for decided, contested in (((), []), ((address,), [address])):
        sides = Side({path: base}, Did(addresses=decided)), Side({path: changed})
        done = merge_books(Texts(desk.blobs), [{path: base}], *sides)  # type: ignore[arg-type]
        assert [contest.address for contest in done.contests] == contested


@pytest.mark.parametrize(
    ("here", "there", "said"),
    [
        ((SEAT,), (MOVED,), False),  # changed in its place here, renamed there
        ((SEAT, MOVED, SEAT), (MOVED,), True),  # the name was given back: a decision, too
        (("records/away.toml", SEAT), (MOVED,), True),  # renamed here, and back
        ((), (MOVED,), False),
    ],
)
def test_a_record_that_was_changed_where_it_lies_was_not_renamed(
    desk: Desk, here: tuple[str, ...], there: tuple[str, ...], said: bool
) -> None:
    base, ours, shared = desk.record(), desk.record(lot__quantity=5), desk.record()
    sides = Side({SEAT: ours}, Did(here)), Side({MOVED: shared}, Did(there))
    done = merge_books(Texts(desk.blobs), [{SEAT: base}], *sides)  # type: ignore[arg-type]
    assert desk.result({SEAT: ours}, done) == {MOVED: ours}
    assert any("renamed on both sides" in words for words in done.said) == said
