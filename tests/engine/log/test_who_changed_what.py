"""Small pasts made with plain git, and what must be said of them: by the index, and by the walk.

Each past is a few commits long and its answer is worked by hand.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from engine.log.ancestry import stood_in
from engine.log.commits import ChangeQuery, Saved, read_saved
from engine.log.diff import change, changes_between, delta_of, position_changes
from engine.log.past import NO_INDEX, Past
from engine.log.trace import covering, traced, with_runs
from engine.repo.git import Git, RawCommit
from engine.repo.message import compose
from engine.views import RunState, Who
from schemas.toml import write_toml
from tests.mini_book import SEAT, cell_tree, plain_git, record_tree

FILE = f"records/{SEAT}.toml"
KEY = "wm-seat10"
QUANTITY = "lot.quantity"
NOON = datetime.fromisoformat("2026-03-02T12:00:00+01:00")


@pytest.fixture(params=["index", "walk"])
def past_of(request, monkeypatch):
    """`past_of(folder)`: what is known of a book's past, each way."""
    opened = []
    if request.param == "walk":
        monkeypatch.setenv(NO_INDEX, "1")

    def make(folder):
        git = Git(folder)
        past = Past(git)
        past.refresh(git.head())
        opened.append(past)
        return past

    yield make
    for past in opened:
        past.close()


class Hand:
    """Somebody with plain git in a book's folder."""

    def __init__(self, folder):
        self.folder = folder

    def write(self, old, new, path=FILE):
        text = (self.folder / path).read_text()
        assert old in text
        (self.folder / path).write_text(text.replace(old, new))

    def commit(self, *paths):
        plain_git(self.folder, "add", "-A", *paths)
        plain_git(self.folder, "commit", "-qm", "by hand")
        return plain_git(self.folder, "rev-parse", "HEAD").strip()

    def quantity(self, number, path=FILE):
        """Commit another quantity."""
        lines = (self.folder / path).read_text().split("\n")
        at = next(n for n, line in enumerate(lines) if line.startswith("quantity = "))
        lines[at] = f"quantity = {number}"
        (self.folder / path).write_text("\n".join(lines))
        return self.commit()

    def branch(self, name):
        plain_git(self.folder, "switch", "-qc", name)

    def to(self, name):
        plain_git(self.folder, "switch", "-q", name)

    def merge(self, other, text=None):
        """Merge with our files, or with another quantity."""
        plain_git(self.folder, "merge", "-q", "--no-ff", "--no-commit", "-s", "ours", other)
        if text is None:
            return self.commit()
        return self.quantity(text)


@pytest.fixture
def hand(folder):
    return Hand(folder)


def rows(past, address=QUANTITY, key=KEY):
    """(commit, old, new) of one value."""
    return [
        (row.saved.id, row.old, row.new) for row in past.rows(key, lambda other: other == address)
    ]


def first(hand):
    return plain_git(hand.folder, "rev-list", "--max-parents=0", "HEAD").strip()


# whose a value is


def test_each_change_belongs_to_its_commit_and_spelling_is_none(hand, past_of):
    one = hand.quantity(5)
    hand.write("stick_out = 62.0", "stick_out = 62.00")
    hand.commit()
    two = hand.quantity(6)
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (one, 110, 5), (two, 5, 6)]
    assert rows(past, "tools.T04.stick_out") == [(first(hand), None, Decimal("62.0"))]
    assert len(past.life(KEY)) == 4  # the text did change


def test_a_merge_that_joins_makes_nothing_and_one_that_decides_does(hand, past_of):
    hand.branch("side")
    theirs = hand.quantity(5)
    hand.to("main")
    hand.write("stick_out = 62.0", "stick_out = 63.0")
    hand.commit()
    plain_git(hand.folder, "merge", "-q", "--no-ff", "-m", "joins", "side")
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (theirs, 110, 5)]
    mine = hand.quantity(6)
    plain_git(hand.folder, "switch", "-q", "side")
    other = hand.quantity(4)
    hand.to("main")
    keeps = hand.merge("side")
    past = past_of(hand.folder)
    assert (keeps, 4, 6) in rows(past)  # the other side's value, and the one that stands
    (row,) = [r for r in past.rows(KEY, lambda a: a == QUANTITY) if r.decided]
    assert row.decided == (mine, other)
    assert not past.life(KEY)[-1].is_ink
    plain_git(hand.folder, "reset", "-q", "--hard", mine)
    decides = hand.merge("side", 7)
    past = past_of(hand.folder)
    assert (decides, 6, 7) in rows(past)  # the old value is that of the first parent
    assert all(row.decided is None for row in past.rows(KEY, lambda _: True))


def test_a_value_taken_out_and_a_record_deleted_are_said_once(hand, past_of):
    hand.write("quantity = 110\n", "")
    out = hand.commit()
    gone = None
    plain_git(hand.folder, "rm", "-q", FILE)
    gone = hand.commit()
    past = past_of(hand.folder)
    assert rows(past)[1:] == [(out, 110, None)]
    assert rows(past, "notes.text")[1:] == [(gone, "Wipe the jaws first.", None)]
    assert past.life(KEY)[-1].new == ""
    assert past.knows(KEY)
    assert not past.knows("wm-nobody")
    assert KEY not in {key for key, (_, step) in past.last_steps().items() if step.saved.id == gone}
    assert past.place_at(gone, KEY) == ("", "")
    assert past.place_at(out, KEY)[0] == FILE


def test_a_record_that_comes_back_has_its_values_from_that_commit(hand, past_of):
    plain_git(hand.folder, "rm", "-q", FILE)
    gone = hand.commit()
    plain_git(hand.folder, "checkout", "-q", "HEAD~1", "--", FILE)
    back = hand.commit()
    assert rows(past_of(hand.folder)) == [
        (first(hand), None, 110), (gone, 110, None), (back, None, 110),
    ]  # fmt: skip


def test_a_text_that_is_no_toml_changes_nothing_and_the_next_one_says_all(hand, past_of):
    hand.write("[lot]", "[lot")
    broken = hand.commit()
    hand.write("machining_seconds = 203", "machining_seconds = 204")
    hand.commit()  # still broken
    hand.write("[lot", "[lot]")
    mended = hand.quantity(5)
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (mended, 110, 5)]
    assert rows(past, "lot.machining_seconds")[-1] == (mended, 203, 204)
    assert past.values(FILE, past.place_at(broken, KEY)[1]) is None


def test_over_a_merge_the_last_readable_text_is_that_of_the_first_parent(hand, past_of):
    hand.branch("side")
    hand.quantity(5)
    hand.to("main")
    hand.quantity(6)
    hand.merge("side")
    hand.write("[lot]", "[lot")
    hand.commit()
    (hand.folder / FILE).write_text(plain_git(hand.folder, "show", f"side:{FILE}"))
    mended = hand.commit()
    assert rows(past_of(hand.folder))[-1] == (mended, 6, 5)


def test_a_text_without_its_identity_is_another_document(hand, past_of):
    text = (hand.folder / FILE).read_bytes()
    (hand.folder / FILE).write_bytes(b"= broken")
    broken = hand.commit()
    (hand.folder / FILE).write_bytes(text)
    back = hand.commit()
    assert rows(past_of(hand.folder))[1:] == [(broken, 110, None), (back, None, 110)]


def test_broken_from_the_beginning_and_then_mended(hand, past_of):
    text = (hand.folder / FILE).read_text().replace(KEY, "wm-new0001")
    path = "records/new.toml"
    (hand.folder / path).write_text(text.replace("[lot]", "[lot"))
    hand.commit()
    (hand.folder / path).write_text(text)
    mended = hand.commit()
    assert rows(past_of(hand.folder), key="wm-new0001") == [(mended, None, 110)]


def test_a_rename_is_no_change_of_any_value(hand, past_of):
    plain_git(hand.folder, "mv", FILE, "records/z.toml")
    moved = hand.commit()
    five = hand.quantity(5, "records/z.toml")
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (five, 110, 5)]
    assert [step.path for step in past.life(KEY)][-1] == "records/z.toml"
    assert past.place_at(first(hand), KEY)[0] == FILE
    assert past.place_at(moved, KEY)[0] == "records/z.toml"


def test_a_copy_by_hand_with_the_same_identity_is_not_taken_for_a_change(hand, past_of):
    """A record that stands twice is the one at its first path."""
    other = "records/zz-copy.toml"
    (hand.folder / other).write_bytes((hand.folder / FILE).read_bytes())
    hand.commit()
    hand.quantity(7, other)
    five = hand.quantity(5)
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (five, 110, 5)]
    plain_git(hand.folder, "rm", "-q", FILE)
    gone = hand.commit()  # now the other one is the record
    past = past_of(hand.folder)
    assert rows(past)[2:] == [(gone, 5, 7)]
    eight = hand.quantity(8, other)
    assert rows(past_of(hand.folder))[3:] == [(eight, 7, 8)]


def test_a_copy_whose_path_comes_first_is_the_record_from_then_on(hand, past_of):
    other = "records/a-copy.toml"
    text = (hand.folder / FILE).read_text().replace("quantity = 110", "quantity = 7")
    (hand.folder / other).write_text(text)
    seven = hand.commit()
    hand.quantity(5)
    past = past_of(hand.folder)
    assert rows(past) == [(first(hand), None, 110), (seven, 110, 7)]
    assert past.place_at("HEAD", KEY)[0] == other


def test_cells_and_people_have_a_past_too_and_runs_have_none(hand, past_of):
    hand.write("speed = 600", "speed = 500", "cells/lathe.toml")
    slow = hand.commit()
    past = past_of(hand.folder)
    assert rows(past, "axes.lift.speed", "cells/lathe") == [
        (first(hand), None, 600), (slow, 600, 500),
    ]  # fmt: skip
    kinds = {row.key for row in past.rows_of_all(ChangeQuery())}
    assert kinds == {KEY, "wm-bush20", "cells/lathe", "cells/mill", "people", "book"}


# over the whole book


def test_what_is_asked_of_the_whole_book_comes_newest_first_and_no_more(at, folder, past_of):
    mira, ole = at("mira"), at("ole")
    moments = []
    for n, (book, name, reason) in enumerate(
        [(mira, SEAT, "a reason"), (ole, SEAT, ""), (mira, "bush-op20", "a reason")]
    ):
        book.document(name).pencil.set(QUANTITY, str(n))
        commit = book.document(name).ink(reason).commit
        moments.append((commit, datetime.fromisoformat(
            plain_git(folder, "show", "-s", "--format=%aI", commit).strip())))  # fmt: skip
    commits, times = zip(*moments, strict=True)
    past = past_of(folder)

    def found(**limits):
        covers = limits.pop("covers", lambda address: address == QUANTITY)
        rows = past.rows_of_all(ChangeQuery(covers=covers, **limits))
        return [row.saved.id for row in rows if row.saved.id in commits]

    a, b, c = commits
    assert found() == [c, b, a]
    assert found(person="mira") == [c, a]
    assert found(person="ole") == [b]
    assert found(since=times[1]) == [c, b]
    assert found(since=times[1] + timedelta(seconds=1)) == [c]
    assert found(until=times[1]) == [b, a]
    assert found(until=times[1] - timedelta(seconds=1)) == [a]
    assert found(without_reason=True) == [b]
    assert found(key=KEY) == [b, a]
    assert found(key=KEY, person="mira", since=times[0], until=times[2]) == [a]
    assert found(covers=lambda address: address == "jaws.bite") == []


def test_what_the_head_was_at_a_moment(at, folder, past_of):
    mira = at("mira")
    begin = mira.head
    mira.document(SEAT).pencil.set(QUANTITY, "5")
    commit = mira.document(SEAT).ink().commit
    past = past_of(folder)
    made = {c: past.saved(c).when for c in (begin, commit)}
    second = timedelta(seconds=1)
    assert past.head_at(made[begin] - second) == ""
    assert past.head_at(made[begin]) == begin
    assert past.head_at(made[commit] - second) == begin
    assert past.head_at(made[commit]) == past.head_at(made[commit] + second) == commit
    assert [past.order_of(c) for c in (begin, commit, "0" * 40)] == [0, 1, -1]
    assert past.count() == 2
    assert past.commits_beginning(commit[:9]) == [commit]
    assert past.commits_beginning("zz") == []
    assert past.after(begin) == {commit}
    assert past.after(commit) == set()
    assert past.after("0" * 40) == {begin, commit}


# who made a commit


MIRA, OLE = ("Mira Falk", "mira@witnessmark"), ("Ole Brandt", "ole@witnessmark")
WHOLE = {"Kind": "ink", "Person": "mira", "Login": "m.falk", "Reason": "worn", "Draft": "d-1"}


def said(author=MIRA, committer=None, **trailers):
    kept = {key: value for key, value in {**WHOLE, **trailers}.items() if value}
    message = compose("seat: quantity", [], kept)
    return read_saved(RawCommit("c", ("p",), author, committer or author, NOON, message))


def test_a_commit_of_the_program_says_who_when_and_why():
    assert said() == Saved(
        "c", ("p",), Who("mira", "Mira Falk", "m.falk"), NOON, "seat: quantity", "worn", "ink",
        "d-1", True,
    )  # fmt: skip


@pytest.mark.parametrize(
    "changed",
    [
        {"committer": OLE},
        {"author": OLE},
        {"author": ("Mira Falk", "mira@shop")},
        {"author": ("Mira Falk", "@witnessmark")},
        {"Person": "ole"},
        {"Person": ""},
        {"Kind": ""},
    ],
)
def test_a_commit_in_which_one_thing_does_not_agree_is_by_hand(changed):
    assert not said(**changed).whole


def test_whoever_has_no_key_is_known_by_the_address():
    assert said(author=("By Hand", "hand@shop")).who == Who("hand@shop", "By Hand", "m.falk")
    plain = read_saved(RawCommit("c", (), MIRA, MIRA, NOON, "words\n"))
    assert (plain.who, plain.reason, plain.kind, plain.draft, plain.whole) == (
        Who("mira", "Mira Falk", ""), "", "", "", False,
    )  # fmt: skip


# a value and the runs that were made with it


class Order:
    """Stands for a straight past of eleven commits, by their numbers."""

    def parents(self, n):
        return (n - 1,) if n else ()

    def bends(self, n):
        return 0

    def top(self, n):
        return n

    def stood_in(self, changes, spans):
        rows = [(int(commit), address) for commit, address in changes]
        return stood_in(self, rows, [(int(start), int(end or 10)) for start, end in spans])


def item(order, address=QUANTITY):
    return traced_row(str(order), address)


def traced_row(commit, address):
    from engine.log.past import ValueChange

    saved = Saved(commit, (), Who("mira", "Mira"), NOON, "", "why", "ink", "", True)
    return traced(ValueChange(saved, KEY, FILE, address, 1, 2), lambda _: "mm")


def run(number, start, stop):
    return RunState(number, "r", NOON, None, str(start), str(stop) if stop else "", 1, 1, 0,
                    Who("mira", "Mira"))  # fmt: skip


def test_a_traced_value_says_all_of_its_commit():
    found = item(3)
    assert (found.commit, found.when, found.who.key, found.reason, found.verified) == (
        "3", NOON, "mira", "why", True,
    )  # fmt: skip
    assert (found.document, found.change.delta, found.change.unit) == (SEAT, 1, "mm")


@pytest.mark.parametrize(
    ("runs", "wanted"),
    [
        ([(1, 1, 2)], [[], []]),  # over before the first change
        ([(1, 1, 3)], [[1], []]),  # it stopped at that very change
        ([(1, 3, 5)], [[1], []]),
        ([(1, 6, 6)], [[1], []]),
        ([(1, 6, 7)], [[1], [1]]),  # the next change took over while it ran
        ([(1, 7, 9)], [[], [1]]),
        ([(1, 8, None)], [[], [1]]),  # it still runs
        ([(1, 3, None)], [[1], [1]]),
        ([(1, 10, None)], [[], [1]]),  # begun at the head
        ([(1, 4, 5), (2, 8, 9)], [[1], [2]]),
    ],
)
def test_runs_stand_at_the_values_they_were_made_with(runs, wanted):
    found = with_runs([item(3), item(7)], [run(*one) for one in runs], Order())
    assert [list(one.runs) for one in found] == wanted


def test_another_value_does_not_take_over():
    items = [item(3), item(5, "jaws.bite"), item(7)]
    found = with_runs(items, [run(1, 6, 6)], Order())
    assert [one.runs for one in found] == [(1,), (1,), ()]


# differences


def test_what_is_covered_is_the_value_or_its_table_and_nothing_that_only_begins_alike():
    assert covering("positions.seat")("positions.seat.lift")
    assert covering("positions.seat.lift")("positions.seat.lift")
    assert not covering("positions.seat")("positions.seat2.lift")
    assert not covering("positions.seat.lift")("positions.seat")


@pytest.mark.parametrize(
    ("old", "new", "delta"),
    [
        (Decimal("0.10"), Decimal("0.30"), Decimal("0.20")),
        (5, Decimal("4.5"), Decimal("-0.5")),
        (1, 3, 2),
        (True, False, None),
        (0, True, None),
        ("1", "2", None),
        (1, "2", None),
        (None, 1, None),
        (1, None, None),
        ([1], [2], None),
    ],
)
def test_a_delta_is_exact_and_only_between_numbers(old, new, delta):
    assert delta_of(old, new) == delta
    assert change("a", old, new, "mm").delta == delta


def test_changes_stand_in_the_order_of_the_new_state_then_what_is_gone():
    old = {"a": 1, "b": 2, "c": Decimal("3.0"), "d": 4}
    new = {"d": 5, "c": 3, "e": 6, "a": 1}
    changes, respelt = changes_between(old, new, lambda address: f"u{address}")
    assert [(c.address, c.old, c.new, c.unit) for c in changes] == [
        ("d", 4, 5, "ud"), ("e", None, 6, "ue"), ("b", 2, None, "ub"),
    ]  # fmt: skip
    assert respelt == 1


def test_only_taught_positions_become_vectors_one_for_each_station():
    def moved(address, delta, unit="mm"):
        number = Decimal(delta) if delta else None
        return change(address, Decimal(0) if number is not None else None, number, unit)

    found = position_changes([
        moved("positions.seat.x", "3"), moved("positions.fetch.x", "1"),
        moved("positions.seat.y", "-4"), moved("positions.seat.w", "-90", "deg"),
        moved("positions.seat.v", "30", "deg"), moved("positions.seat.n", ""),
        moved("approach.seat.x", "9"), moved("positions.seat", "9"),
        moved("positions.seat.x.y", "9"), moved("positions.turn.w", "5", "deg"),
    ])  # fmt: skip
    assert [(v.station, v.distance, v.turn) for v in found] == [
        ("seat", 5.0, 90.0), ("fetch", 1.0, 0.0), ("turn", 0.0, 5.0),
    ]  # fmt: skip
    assert [axis for axis, _, _ in found[0].deltas] == ["x", "y", "w", "v"]


def test_a_hand_made_book_of_another_shop_is_read_like_any(tmp_path, past_of):
    """No commit of the program in it at all."""
    for name, tree in (
        ("records/a.toml", record_tree("wm-aaaaaa", "lathe", "A", "a")),
        ("cells/lathe.toml", cell_tree("Lathe")),
    ):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(write_toml(tree))
    plain_git(tmp_path, "init", "-q", "--initial-branch=main")
    plain_git(tmp_path, "add", "-A")
    plain_git(tmp_path, "commit", "-qm", "all")
    past = past_of(tmp_path)
    (row,) = rows(past, key="wm-aaaaaa")
    saved = past.saved(row[0])
    assert (saved.who.name, saved.whole) == ("By Hand", False)
    assert set(past.last_steps()) == {"wm-aaaaaa"}
    count, step = past.last_steps()["wm-aaaaaa"]
    assert (count, step.path) == (1, "records/a.toml")
