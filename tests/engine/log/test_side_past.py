"""What one side decided since two sides parted: small pasts made with plain git, worked by hand.

`main` is the side that is known; what its past holds is common to both as far as they had parted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from engine.log.past import Past
from engine.log.side_past import SidePast
from engine.repo.git import Git
from engine.repo.message import compose
from tests.engine.formats.conftest import CAP_ID
from tests.engine.log.test_who_changed_what import FILE, KEY, QUANTITY, Hand
from tests.mini_book import plain_git

COPY = "records/a-copy.toml"  # before the record's own path
PROGRAM = "programs/seat.nc"
Since = Callable[..., SidePast]


@pytest.fixture
def hand(folder: Path) -> Hand:
    """Somebody on the other side's branch; nobody has done anything there yet."""
    made = Hand(folder)
    made.branch("there")
    return made


@pytest.fixture
def since(hand: Hand) -> Iterator[Since]:
    """`since()`: what was done on `there` since it left `main`, or since the bases named."""
    opened = []

    def look(*bases: str) -> SidePast:
        git = Git(hand.folder)
        past = Past(git)
        opened.append(past)
        past.refresh(plain_git(hand.folder, "rev-parse", "main").strip())
        meet = plain_git(hand.folder, "merge-base", "main", "there").strip()
        side = plain_git(hand.folder, "rev-parse", "there").strip()
        return SidePast.since(past, side, bases or (meet,))

    yield look
    for past in opened:
        past.close()


def rows(side: SidePast, address: str = QUANTITY, key: str = KEY) -> list[tuple[object, ...]]:
    """(commit, old, new) of one value."""
    return [(r.saved.id, r.old, r.new) for r in side.rows(key) if r.address == address]


def alone(_: str) -> bool:
    """Nothing belongs together."""
    return False


def test_what_was_changed_and_put_back_is_told_and_nothing_of_the_other_side(
    hand: Hand, since: Since
) -> None:
    one, two, back = hand.quantity(5), hand.quantity(6), hand.quantity(110)
    hand.to("main")
    hand.write("bite = 7.5", "bite = 8.0")
    hand.commit()
    side = since()
    assert rows(side) == [(one, 110, 5), (two, 5, 6), (back, 6, 110)]
    assert side.addresses(KEY) == {QUANTITY}
    assert side.last(KEY).id == back
    bush = "wm-bush20"
    assert (side.rows(bush), side.last(bush), side.paths(bush)) == ([], None, frozenset())
    assert rows(since(two)) == [(back, 6, 110)]


def test_a_new_record_a_value_that_comes_and_one_that_goes(hand: Hand, since: Since) -> None:
    hand.write("quantity = 110\n", "")
    gone = hand.commit()
    text = (hand.folder / FILE).read_text()
    (hand.folder / FILE).write_text(text.replace("[lot]\n", "[lot]\nquantity = 4\n"))
    back = hand.commit()
    (hand.folder / COPY).write_text(text.replace(KEY, "wm-new0001"))
    made = hand.commit()
    plain_git(hand.folder, "rm", "-q", FILE)
    out = hand.commit()
    side = since()
    assert rows(side) == [(gone, 110, None), (back, None, 4), (out, 4, None)]
    assert rows(side, "record.id", "wm-new0001") == [(made, None, "wm-new0001")]
    assert side.last(KEY).id == out


def test_who_stands_behind_a_value(hand: Hand, since: Since) -> None:
    """The last that made it; else the last that changed it; else what belongs together with it."""
    five = hand.quantity(5)
    hand.quantity(6)
    again = hand.quantity(5)
    last = hand.quantity(7)
    hand.write("bite = 7.5", "bite = 8.0")
    bite = hand.commit()
    side = since()

    def behind(address: str, value: object, together: Callable[[str], bool] = alone) -> str:
        saved = side.who(KEY, address, value, together)  # type: ignore[arg-type]
        return saved.id if saved else ""

    assert behind(QUANTITY, 5) == again != five
    assert behind(QUANTITY, 99) == last
    assert behind("jaws.kept_at", None) == ""
    assert behind("jaws.kept_at", None, lambda other: other.startswith("jaws.")) == bite
    assert behind(QUANTITY, 7, lambda _: True) == last


def test_a_name_that_was_taken_back_was_one_of_its_paths(hand: Hand, since: Since) -> None:
    plain_git(hand.folder, "mv", FILE, "records/other.toml")
    hand.commit()
    plain_git(hand.folder, "mv", "records/other.toml", FILE)
    hand.commit()
    side = since()
    assert side.paths(KEY) == {FILE, "records/other.toml"}
    assert side.rows(KEY) == []
    plain_git(hand.folder, "rm", "-q", FILE)
    hand.commit()
    assert since("there~1").paths(KEY) == frozenset(), "where it lay when it was taken out is none"


def test_a_merge_that_takes_one_sides_text_only_passes_it_on(hand: Hand, since: Since) -> None:
    hand.branch("aside")
    theirs = hand.quantity(4)
    (hand.folder / PROGRAM).write_text("O7\nM30\n")
    program = hand.commit()
    hand.to("there")
    hand.write("stick_out = 62.0", "stick_out = 63.0", "records/bush-op20.toml")
    hand.commit()
    plain_git(hand.folder, "merge", "-q", "--no-ff", "-m", "joins", "aside")
    side = since()
    assert rows(side) == [(theirs, 110, 4)]
    assert side.last(KEY).id == theirs
    assert side.file(PROGRAM).id == program
    hand.branch("other")
    nine = hand.quantity(9)
    hand.to("there")
    hand.quantity(8)
    merged = hand.merge("other", 10)
    side = since()
    assert rows(side)[-1] == (merged, 8, 10), "what differs from both is the merge's own"
    assert nine in {commit for commit, _, _ in rows(side)}
    assert side.last(KEY).id == merged


def test_a_merge_that_joins_values_of_both_changes_none(hand: Hand, since: Since) -> None:
    hand.branch("aside")
    theirs = hand.quantity(4)
    hand.to("there")
    hand.write("stick_out = 62.0", "stick_out = 63.0")
    mine = hand.commit()
    plain_git(hand.folder, "merge", "-q", "--no-ff", "-m", "joins", "aside")
    assert {r.address: r.saved.id for r in since().rows(KEY)} == {
        QUANTITY: theirs, "tools.T04.stick_out": mine,
    }  # fmt: skip


def test_the_last_that_changed_a_file_whatever_it_holds_now(hand: Hand, since: Since) -> None:
    text = (hand.folder / PROGRAM).read_text()
    (hand.folder / PROGRAM).write_text("O7\nM30\n")
    hand.commit()
    (hand.folder / PROGRAM).write_text(text)
    back = hand.commit()
    plain_git(hand.folder, "rm", "-q", "programs/bush.nc")
    out = hand.commit()
    hand.quantity(5)
    side = since()
    assert (side.file(PROGRAM).id, side.file("programs/bush.nc").id) == (back, out)
    assert side.file("photos/seat-jaws.jpg") is None
    assert side.file(FILE) is None, "a document has values of its own"


def test_of_a_text_that_could_not_be_read_what_was_readable_last_counts(
    hand: Hand, since: Since
) -> None:
    """Whether it broke on this side, or before the sides parted."""
    hand.quantity(5)
    hand.write("[lot]", "[lot")
    hand.commit()
    hand.write("lift = 90.500", "lift = 91.500", "records/bush-op20.toml")
    broken = hand.commit()  # still
    hand.write("[lot", "[lot]")
    mended = hand.quantity(6)
    assert rows(since())[1:] == [(mended, 5, 6)]
    assert broken not in {row.saved.id for row in since().rows(KEY)}
    hand.to("main")
    plain_git(hand.folder, "merge", "-q", "--ff-only", broken)
    assert rows(since()) == [(mended, 5, 6)]
    assert rows(since(broken)) == [(mended, 5, 6)]


@pytest.mark.parametrize("path", [FILE, "records/moved.toml"])
def test_a_copy_with_the_same_identity_is_the_record_at_its_first_path(
    hand: Hand, since: Since, path: str
) -> None:
    """Whether the record lay there before the sides parted, or came there on this one."""
    if path != FILE:
        plain_git(hand.folder, "mv", FILE, path)
        hand.commit()
    text = (hand.folder / path).read_text()
    (hand.folder / COPY).write_text(text.replace("quantity = 110", "quantity = 7"))
    seven = hand.commit()
    hand.quantity(5, path)
    assert rows(since()) == [(seven, 110, 7)]
    (hand.folder / COPY).unlink()
    out = hand.commit()
    assert rows(since())[1:] == [(out, 7, 5)], "the other one counts again, though it is unchanged"


def test_runs_have_no_values_here(hand: Hand, since: Since) -> None:
    path = f"runs/{KEY}/20260302-0700-beef.toml"
    (hand.folder / path).parent.mkdir(parents=True)
    (hand.folder / path).write_text('format = 1\n\n[run]\nnumber = 1\ncommit = "x"\n')
    made = hand.commit()
    side = since()
    key = path.removesuffix(".toml")
    assert (side.rows(key), side.last(key).id, side.file(path).id) == ([], made, made)


@pytest.mark.parametrize(
    ("book", "path", "key", "believed"),
    [("folder", FILE, KEY, False), ("old_book", "records/cap-op10.toml", CAP_ID, True)],
)
def test_what_has_no_check_sum_is_believed_only_where_nothing_before_it_has_one(
    request: pytest.FixtureRequest, book: str, path: str, key: str, believed: bool
) -> None:
    """Earlier programs wrote none; a save of this one is in the past of both sides of the first."""
    hand = Hand(request.getfixturevalue(book))
    base = plain_git(hand.folder, "rev-parse", "HEAD").strip()
    commits = []
    for number in (5, 6):
        hand.quantity(number, path)
        message = compose("quantity", [], {"Kind": "ink", "Person": "mira"})
        who = ("-c", "user.name=Mira Falk", "-c", "user.email=mira@witnessmark")
        plain_git(hand.folder, *who, "commit", "-q", "--amend", "--reset-author", "-m", message)
        commits.append(plain_git(hand.folder, "rev-parse", "HEAD").strip())
    past = Past(Git(hand.folder))
    past.refresh(base)
    side = SidePast.since(past, commits[1], [base])
    past.close()
    assert {r.saved.id: r.saved.whole for r in side.rows(key)} == dict.fromkeys(commits, believed)
