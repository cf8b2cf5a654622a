"""Where a merge decided between two sides: told as a change of its own, and what stands is last.

The merges are those of a sync, and those that somebody made with plain git.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from engine.book import Book
from engine.log.past import NO_INDEX
from engine.views.serialise import flat, plain
from engine.views.wording import decided_words
from tests import shop_floor
from tests.mini_book import SEAT, plain_git, session_of

BITE, LIFT, QUANTITY = "jaws.bite", "positions.seat.lift", "lot.quantity"


def ink(book: Book, **values: str) -> str:
    return shop_floor.ink(book, SEAT, "as measured", **values).commit


@pytest.fixture(params=["index", "walk"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each way of knowing the past."""
    if request.param == "walk":
        monkeypatch.setenv(NO_INDEX, "1")


def last(book: Book, address: str):  # type: ignore[no-untyped-def]
    return book.document(SEAT).past.trace(address)[-1]


def test_a_sync_that_decides_for_one_group_is_the_last_row_of_the_other(two, way):
    mira, ole = two
    ink(ole, jaws__bite="8.0")
    ole.sync()
    mine = ink(mira, positions__seat__lift="149.4")
    mira.document(SEAT).runs.start()
    mira.document(SEAT).runs.stop(5, 0)
    done = mira.sync()
    mira.document(SEAT).pencil.rub_out()
    mira.document(SEAT).runs.start()
    mira.document(SEAT).runs.stop(5, 0)

    first, lost, kept = mira.document(SEAT).past.trace(LIFT)
    assert (lost.commit, lost.runs) == (mine, (1,)), "run 1 was made with it, run 2 was not"
    assert (first.runs, kept.runs) == ((), (2,))
    assert (kept.commit, kept.who.key, kept.verified) == (done.merged, "mira", True)
    assert (kept.change.old, kept.change.new) == (Decimal("149.4"), Decimal("148.900"))
    assert kept.merged is not None
    assert (kept.merged.kept_by, kept.merged.against_by.key) == (None, "mira")
    assert kept.merged.against_commit == mine
    assert decided_words(kept) == "merged: kept the older 148.900, against 149.4 of Mira Falk"
    assert [item.merged for item in mira.document(SEAT).past.trace(BITE)] == [None, None]


def test_the_same_value_inked_on_both_boxes_is_told_with_both_names(two, way):
    mira, ole = two
    theirs = ink(ole, lot__quantity="99")
    ole.sync()
    mine = ink(mira, lot__quantity="150")
    done = mira.sync()
    kept = last(mira, QUANTITY)
    assert (kept.commit, kept.change.old, kept.change.new) == (done.merged, 150, 99)
    assert (kept.merged.kept_commit, kept.merged.against_commit) == (theirs, mine)
    assert decided_words(kept) == "merged: kept 99 of Ole Brandt, against 150 of Mira Falk"
    told = plain(kept)["merged"]
    assert (told["kept_by"]["person"], told["against_by"]["person"]) == ("ole", "mira")
    assert (flat(kept)["merged"], flat(kept)["kept_by"]) == (True, "ole")

    marks = mira.document(SEAT).past.marks()
    assert (marks[0].kind, marks[0].commit, marks[0].name) == (
        "merge", done.merged, done.merged[:10],
    )  # fmt: skip
    assert {mark.name for mark in marks[1:]} == {"ink-1", "ink-2", "ink-3"}
    assert mira.document(SEAT).past.show(marks[0].name).values["lot"]["quantity"] == 99
    (listed,) = [item for item in mira.list_records() if item.record == SEAT]
    assert listed.last_ink.commit == done.merged
    (moved,) = [item for item in mira.moved() if item.address == QUANTITY]
    assert (moved.times, moved.net) == (2, -11), "from 110 to what stands; nobody changed it thrice"


def test_later_decisions_name_who_inked_the_value_not_who_merged_it_before(shop, way):
    boxes = [shop.box(name, name) for name in ("mira", "ole")]
    third = shop.box("third", "ole")
    mira, ole = boxes
    made = ink(ole, lot__quantity="99")
    ole.sync()
    ink(mira, lot__quantity="150")
    mira.sync()  # keeps 99
    late = ink(third, lot__quantity="70")
    third.sync()
    kept = last(third, QUANTITY)
    assert (kept.change.old, kept.change.new) == (70, 99)
    assert (kept.merged.kept_commit, kept.merged.against_commit) == (made, late)


class ByHand:
    """A book in which somebody branches and merges with plain git."""

    def __init__(self, book: Book) -> None:
        self.book = book

    def git(self, *words: str) -> str:
        return plain_git(self.book.folder, *words).strip()

    def ink(self, **values: str) -> str:
        self.book.refresh()
        return ink(self.book, **values)

    def merge(self, other: str, *how: str, text: str = "") -> str:
        self.git("merge", "-q", "--no-ff", "--no-commit", "-s", "ours", other)
        for words in how:
            self.git(*words)
        self.git("commit", "-qm", f"Merge {other} {text}")
        self.book.refresh()
        return self.git("rev-parse", "HEAD")


@pytest.fixture
def hand(at, way) -> ByHand:  # type: ignore[no-untyped-def]
    return ByHand(at("mira"))


def test_a_plain_merge_that_equals_one_parent_to_the_byte(hand):
    hand.git("switch", "-qc", "side")
    theirs = hand.ink(lot__quantity="99")
    hand.git("switch", "-q", "main")
    mine = hand.ink(lot__quantity="150")
    made = hand.merge("side")
    kept = last(hand.book, QUANTITY)
    assert (kept.commit, kept.change.new, kept.verified) == (made, 150, False)
    assert (kept.merged.kept_commit, kept.merged.against_commit) == (mine, theirs)


def test_a_plain_merge_that_takes_an_older_value_or_takes_one_out(hand):
    hand.git("switch", "-qc", "side")
    hand.ink(lot__quantity="99", notes__text="said")
    hand.git("switch", "-q", "main")
    hand.ink(jaws__kept_at="rack 9")
    made = hand.merge("side")  # nothing of the side comes in
    kept = last(hand.book, QUANTITY)
    assert (kept.commit, kept.change.old, kept.change.new) == (made, 99, 110)
    assert kept.merged.kept_by is None

    hand.git("switch", "-qc", "again")
    hand.ink(lot__quantity="98")
    hand.git("switch", "-q", "main")
    hand.book.refresh()
    hand.book.document(SEAT).pencil.clear(QUANTITY)
    out = hand.book.document(SEAT).ink("none ordered").commit
    made = hand.merge("again")
    kept = last(hand.book, QUANTITY)
    assert (kept.commit, kept.change.old, kept.change.new) == (made, 98, None)
    assert kept.merged.kept_commit == out
    assert decided_words(kept).startswith("merged: kept no value of Mira Falk, against 98")


def test_there_and_back_counts_as_a_change(hand):
    hand.git("switch", "-qc", "side")
    hand.ink(lot__quantity="99")
    hand.git("switch", "-q", "main")
    hand.ink(lot__quantity="150")
    back = hand.ink(lot__quantity="110")
    made = hand.merge("side", ("checkout", "-q", "side", "--", "records"))
    kept = last(hand.book, QUANTITY)
    assert (kept.commit, kept.change.old, kept.change.new) == (made, 110, 99)
    assert kept.merged.against_commit == back


def test_a_record_that_was_renamed_on_one_side_and_edited_on_the_other(hand):
    hand.git("switch", "-qc", "side")
    hand.ink(lot__quantity="99")
    hand.git("switch", "-q", "main")
    hand.book.refresh()
    hand.book.document(SEAT).rename("seat-new")
    made = hand.merge("side")
    kept = hand.book.document("seat-new").past.trace(QUANTITY)[-1]
    assert (kept.commit, kept.change.old, kept.change.new) == (made, 99, 110)


def test_two_merges_that_cross_and_decide_differently(hand):
    hand.git("switch", "-qc", "side")
    theirs = hand.ink(lot__quantity="99")
    hand.git("switch", "-q", "main")
    mine = hand.ink(lot__quantity="150")
    one = hand.merge("side")  # 150
    hand.git("switch", "-q", "side")
    other = hand.merge(mine)  # 99
    hand.git("switch", "-q", "main")
    made = hand.merge("side")
    trace = hand.book.document(SEAT).past.trace(QUANTITY)
    assert [item.commit for item in trace if item.merged][-1] == made
    assert {item.commit for item in trace if item.merged} == {one, other, made}
    kept = trace[-1]
    assert (kept.change.old, kept.change.new) == (99, 150)
    assert (kept.merged.kept_commit, kept.merged.against_commit) == (mine, theirs)


def test_three_branches_in_one_merge(hand):
    for n in (1, 2, 3):
        hand.git("switch", "-qc", f"side{n}", "main")
        hand.ink(**({"lot__quantity": f"{n}"} if n < 3 else {"notes__text": "three"}))
    hand.git("switch", "-q", "main")
    hand.ink(jaws__kept_at="rack 7")
    hand.git("merge", "-q", "-s", "ours", "-m", "octopus", "side1", "side2", "side3")
    hand.book.refresh()
    for address, value in ((QUANTITY, 110), ("notes.text", "Wipe the jaws first.")):
        kept = last(hand.book, address)
        assert (kept.change.new, kept.merged is not None) == (value, True)
    assert last(hand.book, "jaws.kept_at").change.new == "rack 7"


def test_no_pencil_is_contested_by_who_merged(two):
    mira, ole = two
    ink(ole, lot__quantity="99")
    ole.sync()
    ink(mira, lot__quantity="150")
    mira.document(SEAT).pencil.set(QUANTITY, "160")
    mira.sync()
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert mark.contested.key == "ole"


def test_a_position_decided_by_a_plain_merge_is_found(hand):
    hand.git("switch", "-qc", "side")
    hand.ink(positions__seat__lift="149.4")
    hand.git("switch", "-q", "main")
    hand.ink(lot__quantity="5")
    assert not [f for f in hand.book.check() if f.rule == "position-by-hand"]
    hand.merge("side")
    (found,) = [f for f in hand.book.check() if f.rule == "position-by-hand"]
    assert (found.record, found.address) == (SEAT, LIFT)


def test_a_straight_past_has_no_merges(at):
    mira = at("mira")
    ink(mira, lot__quantity="5")
    assert all(item.merged is None for item in mira.document(SEAT).past.trace("lot"))
    assert session_of(mira).past.jumps().count == 0


def test_what_stood_beside_a_commit_is_not_in_its_past(hand):
    """So a sign-off accepts nothing of a branch that came in after it, in whatever order."""
    hand.git("switch", "-qc", "side")
    hand.book.refresh()
    path = hand.book.folder / f"records/{SEAT}.toml"
    path.write_text(path.read_text().replace("lift = 148.900", "lift = 150.900"))
    hand.git("commit", "-qam", "by hand")
    hand.git("switch", "-q", "main")
    for n in (5, 6):
        signed = hand.ink(lot__quantity=str(n))
    side = hand.git("rev-parse", "side")
    hand.git("merge", "-q", "--no-ff", "-m", "Merge side", "side")
    hand.book.refresh()
    known = session_of(hand.book).past.known_at(signed)
    assert known(signed)
    assert not known(side)
    assert not known("f" * 40)
    assert known(hand.git("rev-parse", f"{signed}~1"))


def test_a_hand_change_that_a_sync_decided_against_is_no_alarm(two):
    mira, ole = two
    ink(ole, positions__seat__lift="149.0")
    ole.sync()
    shop_floor.edit(mira.folder, f"records/{SEAT}.toml", "lift = 148.900", "lift = 150.900")
    plain_git(mira.folder, "commit", "-qam", "by hand")
    mira.refresh()
    rules = lambda: [f.address for f in mira.check() if f.rule == "position-by-hand"]  # noqa: E731
    assert rules() == [LIFT]
    assert mira.sync().merged
    assert mira.document(SEAT).values()[LIFT] == Decimal("149.0")
    assert rules() == []
