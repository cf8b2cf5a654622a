"""Pasts that nobody would make on purpose: the index and the walk say the same, worked by hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar

import pytest

from engine.log.clocks import MOST_JUMPS, Jump
from engine.log.commits import PastSource
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from engine.repo.message import compose
from tests.engine.log.test_who_changed_what import FILE, KEY, QUANTITY, Hand, first
from tests.mini_book import BUSH, plain_git
from tests.shop_floor import HAND_EDIT

A = TypeVar("A")
Told = Callable[[Callable[[PastSource], A]], A]
COPY = "records/a-copy.toml"


class Both:
    """The walk, the index, and an index that is brought up to date at each commit."""

    def __init__(self, folder: Path, files: Path) -> None:
        self.folder = folder
        self.git = Git(folder)
        self._files = files
        self._opened: list[PastSource] = []

    def __call__(self, question: Callable[[PastSource], A]) -> A:
        """What all of them answer."""
        way = plain_git(self.folder, "rev-list", "--first-parent", "--reverse", "HEAD").split()
        asked: list[PastSource] = [WalkedPast(self.git, DocumentCache(self.git))]
        for name in ("at once", "bit by bit"):
            asked.append(IndexedPast(self.git, self._files / f"{name} {len(self._opened)}"))
        self._opened += asked
        for past in asked:
            for head in way if past is asked[2] else way[-1:]:
                past.refresh(head)
        one, *others = [question(past) for past in asked]
        assert all(other == one for other in others)
        return one

    def close(self) -> None:
        for past in self._opened:
            past.close()


@pytest.fixture
def hand(folder: Path) -> Hand:
    """Somebody with plain git in a little book that one save began."""
    return Hand(folder)


@pytest.fixture
def told(hand: Hand, tmp_path: Path) -> Iterator[Both]:
    """`told(question)`: the answer of the walk, which the index has to give as well."""
    made = Both(hand.folder, tmp_path / "own")
    yield made
    made.close()


def rows(
    address: str = QUANTITY, key: str = KEY
) -> Callable[[PastSource], list[tuple[object, ...]]]:
    """(commit, old, new) of one value."""
    return lambda past: [(r.saved.id, r.old, r.new) for r in past.rows(key, lambda a: a == address)]


def test_two_files_of_one_identity_that_came_in_one_commit(hand: Hand, told: Both) -> None:
    """The first path counts from the beginning; what is done to the other file changes nothing."""
    text = (hand.folder / FILE).read_text().replace(KEY, "wm-twice1")
    for name, number in (("b-one", 5), ("b-two", 6)):
        (hand.folder / f"records/{name}.toml").write_text(
            text.replace("quantity = 110", f"quantity = {number}")
        )
    both = hand.commit()
    hand.quantity(7, "records/b-two.toml")
    eight = hand.quantity(8, "records/b-one.toml")
    plain_git(hand.folder, "rm", "-q", "records/b-one.toml")
    out = hand.commit()
    assert told(rows(key="wm-twice1")) == [(both, None, 5), (eight, 5, 8), (out, 8, 7)]
    assert told(lambda past: past.keys_at("records/b-two.toml")) == ["wm-twice1"]


def test_a_path_whose_name_is_no_text(hand: Hand, told: Both) -> None:
    """Git keeps bytes; whoever wrote them in another encoding has a past all the same."""
    path = b"records/h\xfclse.toml"
    text = (hand.folder / FILE).read_bytes().replace(KEY.encode(), b"wm-latin1")
    name = path.decode("utf-8", "surrogateescape")
    (hand.folder / name).write_bytes(text)
    made = hand.commit()
    assert told(rows(key="wm-latin1")) == [(made, None, 110)]
    assert told(lambda past: [s.path for s in past.life("wm-latin1")]) == [name]
    assert told(lambda past: past.keys_at(name)) == ["wm-latin1"]


def test_odd_keys_and_texts_in_a_table_come_back_as_they_stand(hand: Hand, told: Both) -> None:
    text = (
        '[notes]\ntext = "tab\\t, quote \\", line\\nend"\n"" = 1\n"a\\nb" = 2\n"\\"q" = "\\u001f"\n'
    )
    hand.write('[notes]\ntext = "Wipe the jaws first."\n', text)
    made = hand.commit()
    found = told(lambda past: [
        (r.address, r.new) for r in past.rows(KEY, lambda _: True) if r.saved.id == made
    ])  # fmt: skip
    assert dict(found)["notes.text"] == 'tab\t, quote ", line\nend'
    assert [new for _, new in found[1:]] == [1, 2, "\x1f"]


def test_what_has_no_check_sum_after_one_that_has_was_made_by_hand(hand: Hand, told: Both) -> None:
    """The first save of the little book has one, so a forged one is seen, whatever stands on it."""
    for number in (5, 6):
        hand.quantity(number)
        message = compose("quantity", [], {"Kind": "ink", "Person": "mira"})
        who = ("-c", "user.name=Mira Falk", "-c", "user.email=mira@witnessmark")
        plain_git(hand.folder, *who, "commit", "-q", "--amend", "--reset-author", "-m", message)
    found = told(lambda past: [step.saved for step in past.life(KEY)])
    assert [(saved.whole, saved.summed, saved.who.key) for saved in found] == [
        (True, True, "ole"),
        (False, True, "mira"),
        (False, True, "mira"),
    ]


def at(hand: Hand, moment: datetime) -> str:
    plain_git(hand.folder, "commit", "-q", "--allow-empty", "-m", "by hand", when=moment)
    return plain_git(hand.folder, "rev-parse", "HEAD").strip()


def test_stamps_that_run_backwards_are_counted_and_the_last_ones_named(
    hand: Hand, told: Both
) -> None:
    made = []
    for n in range(MOST_JUMPS + 2):
        made.append((at(hand, HAND_EDIT + timedelta(days=n)), at(hand, HAND_EDIT)))
    jumps = told(lambda past: past.jumps())
    # the first pair is of one moment: nothing runs backwards in it
    assert (jumps.count, jumps.behind) == (MOST_JUMPS + 1, MOST_JUMPS + 1)
    stamp = int(HAND_EDIT.timestamp())
    assert (
        jumps.last
        == tuple(Jump(back, stamp, day, stamp + n * 86_400) for n, (day, back) in enumerate(made))[
            2:
        ]
    )


def test_a_box_that_stays_behind_all_there_is_jumps_once(hand: Hand, told: Both) -> None:
    late = at(hand, HAND_EDIT + timedelta(days=9))
    back = [at(hand, HAND_EDIT + timedelta(hours=n)) for n in range(3)]
    jumps = told(lambda past: past.jumps())
    assert (jumps.count, jumps.behind) == (1, 3)
    assert [(jump.commit, jump.parent) for jump in jumps.last] == [(back[0], late)]


def test_a_commit_with_three_parents(hand: Hand, told: Both) -> None:
    """A value of one side is that side's; what differs from all three is the merge's own."""
    sides = {}
    for name, number in (("one", 5), ("two", 6)):
        hand.to("main")
        hand.branch(name)
        sides[name] = hand.quantity(number)
    hand.to("main")
    hand.write("stick_out = 62.0", "stick_out = 63.0")
    mine = hand.commit()
    hand.quantity(7)
    tree = plain_git(hand.folder, "write-tree").strip()
    parents = [mine, sides["one"], sides["two"]]
    words = [word for parent in parents for word in ("-p", parent)]
    merged = plain_git(hand.folder, "commit-tree", tree, *words, "-m", "three").strip()
    plain_git(hand.folder, "reset", "-q", "--hard", merged)
    assert told(lambda past: set(rows()(past))) == {
        (first(hand), None, 110), (sides["one"], 110, 5), (sides["two"], 110, 6), (merged, 110, 7),
    }  # fmt: skip
    assert told(lambda past: past.saved(merged).parents) == tuple(parents)  # type: ignore[union-attr]
    assert [told(lambda past, c=c: past.known_at(merged)(c)) for c in parents] == [True] * 3
    assert told(lambda past: past.known_at(mine)(sides["one"])) is False


@pytest.mark.parametrize("later", [False, True])
@pytest.mark.parametrize(("mine", "theirs"), [((5,), (5, 6)), ((6, 5), (6,)), ((6, 5), (5, 6))])
def test_a_decision_names_who_inked_each_value_on_its_own_side(
    hand: Hand, told: Both, mine: tuple[int, ...], theirs: tuple[int, ...], later: bool
) -> None:
    """Though the other side had the same value for a while, earlier or later."""
    hand.branch("side")
    overruled = [hand.quantity(number) for number in theirs][-1]
    hand.to("main")
    hand.write("lift = 90.500", "lift = 91.500", f"records/{BUSH}.toml")
    hand.commit()  # else the same commits would be made on both sides
    kept = [hand.quantity(number) for number in mine][-1]
    for name, more in (("side", "T8"), ("main", "T9")) if later else ():
        hand.to(name)
        hand.write("[tools.T04]", f'[tools.{more}]\nwhat = "drill"\n\n[tools.T04]')
        hand.commit()
    merged = hand.merge("side")
    (row,) = told(lambda past: [
        row for row in past.rows(KEY, lambda a: a == QUANTITY) if row.saved.id == merged
    ])  # fmt: skip
    assert (row.old, row.new, row.decided) == (6, 5, (kept, overruled))
    assert row.maker == kept


def test_a_value_stands_in_a_span_of_what_is_known_and_forwards_only(
    hand: Hand, told: Both
) -> None:
    """A run whose start is not in the past, or that ends before it, was made with nothing."""
    begin, one, two = first(hand), hand.quantity(5), hand.quantity(6)
    changes, stranger = [(begin, QUANTITY), (one, QUANTITY), (two, QUANTITY)], "0" * 40
    spans = [(begin, one), (one, one), (one, ""), (two, one), (stranger, two), (stranger, "")]
    assert told(lambda past: past.stood_in(changes, spans)) == [[0], [0, 1, 2], [2]]


def test_what_a_box_never_was_in_stood_in_none_of_its_spans(hand: Hand, told: Both) -> None:
    """Of a side that was overruled nothing stood here, though its commits come in between.

    What began on that side stood there, and from the merge on what was decided. What goes from
    one side to the other is no span of history.
    """
    begin = first(hand)
    hand.branch("side")
    theirs = hand.quantity(5)
    hand.to("main")
    mine = hand.quantity(6)
    merged = hand.merge("side")
    last = hand.quantity(7)
    made = [begin, theirs, mine, merged, last]
    made.sort(key=told(lambda past: {c: past.order_of(c) for c in made}).__getitem__)
    changes = [(commit, QUANTITY) for commit in made]
    spans = [(begin, mine), (begin, merged), (mine, merged), (merged, last), (begin, ""),
             (theirs, merged), (theirs, ""), (mine, theirs)]  # fmt: skip
    stood = told(lambda past: past.stood_in(changes, spans))
    assert told(lambda past: [past.known_at(theirs)(mine), past.known_at(mine)(theirs)]) == [
        False, False,
    ]  # fmt: skip
    assert dict(zip(made, stood, strict=True)) == {
        begin: [0, 1, 4], theirs: [5, 6], mine: [0, 1, 2, 4], merged: [1, 2, 3, 4, 5, 6],
        last: [3, 4, 6],
    }  # fmt: skip


def test_documents_that_are_no_records_are_known_by_their_path(hand: Hand, told: Both) -> None:
    plain_git(hand.folder, "rm", "-q", "cells/mill.toml")
    hand.commit()
    (hand.folder / "records/plain.toml").write_text("format = 2\n")
    hand.commit()
    known = {KEY, "wm-bush20", "book", "people", "cells/lathe", "cells/mill", "records/plain"}
    assert told(lambda past: past.documents()) == sorted(known)
    assert told(lambda past: past.keys_at("cells/mill.toml")) == []
    assert told(lambda past: past.keys_at("records/plain.toml")) == ["records/plain"]
    assert told(lambda past: past.keys_at(f"records/{BUSH}.toml")) == ["wm-bush20"]
    assert told(lambda past: {k: n for k, (n, _) in past.last_steps().items()}) == {
        KEY: 1, "wm-bush20": 1, "records/plain": 1,
    }  # fmt: skip
    assert told(lambda past: [past.knows("cells/mill"), past.knows("cells/none")]) == [True, False]


@pytest.mark.parametrize(
    ("pruned", "words"), [(False, "does not descend from"), (True, "is in it no longer")]
)
def test_what_became_of_a_past_that_was_rewritten_is_said(
    hand: Hand, tmp_path: Path, pruned: bool, words: str
) -> None:
    hand.quantity(5)
    gone = hand.quantity(6)
    git, file = Git(hand.folder), tmp_path / "own" / "index"
    past = IndexedPast(git, file)
    past.refresh(gone)
    past.close()
    plain_git(hand.folder, "reset", "-q", "--hard", "HEAD~1")
    head = hand.quantity(7)
    if pruned:
        plain_git(hand.folder, "reflog", "expire", "--expire=now", "--all")
        plain_git(hand.folder, "gc", "-q", "--prune=now")
    for ask in (lambda past: past.notice(head), lambda past: past.refresh(head)):
        again = IndexedPast(Git(hand.folder), file)
        ask(again)
        assert words in again.rewritten
        assert re.search(rf"\b{gone[:10]}\b", again.rewritten)
        assert again.lost == {gone: "little"}
        again.close()
    again = IndexedPast(Git(hand.folder), file)
    again.notice(head)
    again.refresh(head)
    assert (again.rewritten, again.lost) == ("", {}), "said once; it was read anew"
    assert again.rows(KEY, lambda a: a == QUANTITY)[-1].saved.id == head
    again.close()


def test_an_index_that_another_process_took_further_is_no_rewritten_past(
    hand: Hand, tmp_path: Path
) -> None:
    """This one read the head a moment before; only where that is the head now, it was set back."""
    old, new, file = hand.quantity(5), hand.quantity(6), tmp_path / "own" / "index"

    def noticed(head: str) -> str:
        past = IndexedPast(Git(hand.folder), file)
        past.notice(head)
        past.close()
        return past.rewritten

    assert noticed(old) == "", "nothing is known yet"
    past = IndexedPast(Git(hand.folder), file)
    past.refresh(new)
    past.close()
    assert [noticed(head) for head in (old, new)] == ["", ""]
    past = IndexedPast(Git(hand.folder), file)
    past.refresh(old)
    assert (past.rewritten, past.saved(new) is not None) == ("", True)
    past.close()
    assert noticed(hand.quantity(7)) == ""
    plain_git(hand.folder, "reset", "-q", "--hard", old)
    assert new[:10] in noticed(old)


def test_what_is_read_is_counted_for_who_waits_at_the_first_time_and_later(
    hand: Hand, tmp_path: Path
) -> None:
    """Zero says that it is over."""
    seen: list[int] = []
    past = IndexedPast(Git(hand.folder), tmp_path / "own" / "index", seen.append)
    for expected in ([2, 0], [2, 0, 3, 0]):
        past.refresh(hand.quantity(len(seen) + 5))
        assert seen == expected
    past.refresh(past.head)
    assert len(seen) == 4
    past.close()
