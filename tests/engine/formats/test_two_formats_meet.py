"""Two boxes of which one is in format 1 and the other in format 2: no false conflict, no loss."""

from __future__ import annotations

import pytest

from engine.book import Book
from tests.engine.formats.conftest import CAP, LONG, SHORT
from tests.shop_floor import Stepping, edit, plain_git


@pytest.fixture
def boxes(old_book, tmp_path):
    """(old, new): the second has upgraded its files; they meet at a bare repository."""
    hub, clock = tmp_path / "hub.git", Stepping()
    plain_git(tmp_path, "clone", "-q", "--bare", str(old_book), str(hub))
    made = []
    for name, login in (("a", "vera"), ("b", "noor")):
        plain_git(tmp_path, "clone", "-q", str(hub), name)
        made.append(Book.open(tmp_path / name, login=login, clock=clock))
    made[1].upgrade(ink=True)
    yield made
    for book in made:
        book.close()


def in_format_1(book: Book, name: str, old: str, new: str) -> None:
    """A change as an older program would have committed it, the person in its trailers left out."""
    edit(book.folder, f"records/{name}.toml", old, new)
    plain_git(book.folder, "commit", "-qam", "an older program")
    book.refresh()


@pytest.mark.parametrize("first", [0, 1])
def test_values_of_both_sides_meet_at_present_addresses(boxes, first):
    old, new = boxes
    in_format_1(old, CAP, 'place = "cupboard 9"', 'place = "cupboard 2"')
    in_format_1(old, LONG, 'place = "hook 8"', 'place = "hook 7"')
    new.document(CAP).pencil.set("lot.quantity", "91")
    new.document(CAP).ink()
    new.document(CAP).pencil.set("fingers.blank.kept_at", "hook 1")
    new.document(CAP).ink()
    for book in (boxes[first], boxes[1 - first], boxes[first]):
        done = book.sync()
        assert (done.problem, done.contested) == ("", ())
    assert old.head == new.head
    values = old.document(CAP).values()
    assert [values[a] for a in ("jaws.kept_at", "lot.quantity", "fingers.blank.kept_at")] == [
        "cupboard 2", 91, "hook 1",
    ]  # fmt: skip
    assert old.document(LONG).values()["fingers.part.kept_at"] == "hook 7"
    assert [i.change.new for i in old.document(CAP).past.trace("jaws.kept_at")][-2:] == [
        "cupboard 9", "cupboard 2",
    ]  # fmt: skip
    assert all(i.who.name != "merge" for i in old.document(CAP).past.trace("jaws.kept_at"))
    assert not old.check() or not [f for f in old.check() if f.rule == "format"]


def test_one_value_changed_in_both_formats_is_contested_once(boxes):
    old, new = boxes
    in_format_1(old, CAP, 'place = "cupboard 9"', 'place = "cupboard 2"')
    new.document(CAP).pencil.set("jaws.kept_at", "cupboard 5")
    new.document(CAP).ink("mine")
    old.sync()
    done = new.sync()
    assert [(d.address, d.shared, d.aside) for d in done.contested] == [
        ("jaws.kept_at", "cupboard 2", "cupboard 5"),
    ]  # fmt: skip
    assert [(m.address, m.value) for m in new.document(CAP).pencil.draft().marks] == [
        ("jaws.kept_at", "cupboard 5")
    ]


def test_two_upgrades_are_one(boxes):
    old, new = boxes
    Book.open(old.folder, login="noor", clock=Stepping()).upgrade(ink=True)
    for book in (old, new, old):
        done = book.sync()
        assert (done.problem, done.contested) == ("", ())
    texts = [(b.folder / f"records/{n}.toml").read_text() for b in boxes for n in (CAP, SHORT)]
    assert texts[:2] == texts[2:]
    assert "# next to the door" in texts[1]


def test_an_upgrade_is_no_change_that_keeps_a_deleted_file(boxes):
    old, new = boxes
    plain_git(old.folder, "rm", "-q", f"records/{SHORT}.toml")
    plain_git(old.folder, "commit", "-qm", "gone")
    old.refresh()
    old.sync()
    new.sync()
    assert SHORT not in new.documents()


def test_an_upgrade_brings_a_comment_through_a_change_of_the_other_side(boxes):
    old, new = boxes
    in_format_1(old, SHORT, "bite = 3.5", "bite = 3.25")
    old.sync()
    done = new.sync()
    assert not done.contested
    assert str(new.document(SHORT).values()["jaws.bite"]) == "3.25"
    text = (new.folder / f"records/{SHORT}.toml").read_text()
    assert "# next to the door" in text
    assert text.startswith("# low jaws, half the height\nformat = ")
