"""The kept book of format 1: what it said when it was made, it says with every later program.

What is expected here was read off with the program that made the book.
"""

from __future__ import annotations

import pytest

from engine.log.commits import ChangeQuery
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from schemas.errors import UsageError, ValueRefused
from tests.engine.formats.conftest import CAP, CAP_ID, LONG, SHORT
from tests.mini_book import plain_git

HEAD = "4c03a89beb09b6f958645bac4da8a33ad0923591"
KEPT = ["cupboard 3, drawer 11", "cupboard 3, drawer 13", "cupboard 3, drawer 11", "cupboard 9"]


def test_its_commits_are_the_ones_that_were_made(old, old_book):
    assert old("pelle").head == HEAD
    assert plain_git(old_book, "fsck", "--full", "--strict") == ""
    assert plain_git(old_book, "status", "--porcelain") == ""


def test_its_list_says_what_it_said(old):
    book = old("pelle")
    listed = {item.record: item for item in book.list_records(findings=False)}
    assert list(listed) == [CAP, SHORT, LONG]
    assert [item.signed_off for item in listed.values()] == ["void", "no", "yes"]
    assert [item.changed_since_run for item in listed.values()] == [6, None, None]
    assert [bool(item.confirmed and item.confirmed.still) for item in listed.values()] == [
        False, False, True,
    ]  # fmt: skip
    assert [(r.number, r.good, r.scrap) for r in book.document(CAP).runs.all()] == [(1, 83, 4)]
    assert [r.stopped for r in book.document(LONG).runs.all()] == [None]
    assert not [item.problems for item in listed.values() if item.problems]
    assert len(book.document(CAP).past.marks()) == 11


@pytest.mark.parametrize("address", ["jaws.place", "jaws.kept_at"])
def test_a_trace_reads_old_texts_at_present_addresses_and_understands_old_ones(old, address):
    book = old("pelle")
    items = book.document(CAP).past.trace(address)
    assert [item.change.new for item in items] == KEPT
    assert {item.change.address for item in items} == {"jaws.kept_at"}
    assert [item.who.key for item in items] == ["noor", "vera", "noor", "vera"]
    assert [item.runs for item in items] == [(), (1,), (), ()]
    through = book.document(SHORT).past.trace("jaws.place", through_copies=True)
    assert [item.change.new for item in through] == KEPT[:2]


def test_other_questions_take_an_old_address(old):
    book = old("vera")
    for pattern in ("fingers.*.place", "fingers.*.kept_at"):
        found = book.history(address=pattern, name=CAP).items
        assert [item.change.new for item in found] == ["hook 3", "hook 5", "hook 6"]
    assert book.document(CAP).describe("tray.place").address == "tray.kept_at"
    assert [m.times for m in book.moved(address="jaws.place")] == [3]
    assert {c.address for c in book.document(CAP).past.compare("ink-1").changes} >= {
        "jaws.kept_at", "tray.kept_at", "fingers.blank.kept_at",
    }  # fmt: skip
    with pytest.raises(UsageError, match="there is no address"):
        book.document(CAP).past.trace("blank.place")


def test_a_file_takes_the_present_format_at_its_next_ink(old, old_book):
    book = old("vera")
    book.document(CAP).pencil.set_all({"jaws.place": "cupboard 4", "fingers.part.place": "hook 9"})
    assert [m.address for m in book.document(CAP).pencil.draft().marks] == [
        "jaws.kept_at",
        "fingers.part.kept_at",
    ]
    with pytest.raises(ValueRefused, match=r"jaws\.place is jaws\.kept_at now"):
        book.document(CAP).pencil.set_all({"jaws.place": "a", "jaws.kept_at": "b"})
    assert book.document(CAP).needs_reason()  # the policy says so of jaws.place
    done = book.document(CAP).ink("tidied up")
    assert [c.address for c in done.changes] == ["jaws.kept_at", "fingers.part.kept_at"]
    text = (old_book / f"records/{CAP}.toml").read_text()
    assert text.startswith("format = 2\n")
    assert "place" not in text
    assert (old_book / f"records/{LONG}.toml").read_text().startswith("format = 1\n")
    assert [i.change.new for i in book.document(CAP).past.trace("jaws.kept_at")] == [
        *KEPT,
        "cupboard 4",
    ]
    assert len(book.document(CAP).past.trace("format")) == 1
    book.document(CAP).pencil.clear("tray.place")
    assert book.document(CAP).pencil.draft().marks[0].value is None
    book.document(CAP).pencil.rub_out(["tray.place"])
    assert book.document(CAP).pencil.draft() is None


def test_going_back_to_an_old_mark_inks_the_present_format(old, old_book):
    book = old("vera")
    done = book.document(CAP).restore("ink-3", "jaws.place", "drawer 13 again")
    assert [(c.address, c.new) for c in done.changes] == [("jaws.kept_at", KEPT[1])]
    assert 'kept_at = "cupboard 3, drawer 13"' in (old_book / f"records/{CAP}.toml").read_text()
    whole = book.document(CAP).restore("ink-1", reason="from the beginning")
    assert not any("place" in change.address for change in whole.changes)
    assert book.document(CAP).past.compare("ink-1", "now").changes == ()


def test_a_hand_edit_of_an_old_text_keeps_lines_and_comments(old, old_book):
    book = old("vera")
    file = old_book / f"records/{SHORT}.toml"
    line = file.read_text().split("\n").index('place   = "bay G" # next to the door') + 1
    file.write_text(file.read_text().replace('"bay G"', "7"))
    found = [f for f in book.check([SHORT]) if f.address == "tray.kept_at"]
    assert [(f.file, f.line) for f in found] == [(f"records/{SHORT}.toml", line)]
    file.write_text(file.read_text().replace("= 7 #", '= "bay H" #'))
    assert [c.address for c in book.document(SHORT).on_disk.found().changes] == ["tray.kept_at"]
    found = [f for f in book.check([SHORT]) if f.address == "tray.kept_at"]
    assert [f.line for f in found] == [line]
    book.document(SHORT).on_disk.take()
    book.document(SHORT).ink("moved")
    assert book.document(SHORT).values()["tray.kept_at"] == "bay H"
    assert "comment at tray.kept_at: next to the door" in str(
        book.document(SHORT).values()["notes.text"]
    )


def test_pencil_of_an_older_program_is_at_present_addresses(old, old_book):
    book = old("vera")
    book.document(CAP).pencil.set("jaws.kept_at", "cupboard 4")
    book.document(CAP).pencil.set("lot.quantity", "93")
    journal = old_book / f".git/witnessmark/pencil/vera/{CAP_ID}.jsonl"
    journal.write_text(journal.read_text().replace("jaws.kept_at", "jaws.place"))
    book = old("vera")
    assert [m.address for m in book.document(CAP).pencil.draft().marks] == [
        "jaws.kept_at",
        "lot.quantity",
    ]
    assert book.document(CAP).pencil.undo().startswith("setting lot.quantity")
    assert book.document(CAP).pencil.undo() == "setting jaws.kept_at to cupboard 4"
    book.document(CAP).pencil.redo()
    book.document(CAP).ink("tidied up")
    assert book.document(CAP).pencil.draft() is None
    assert book.document(CAP).values()["jaws.kept_at"] == "cupboard 4"


def test_index_and_plain_walk_agree_on_both_formats(old, old_book, tmp_path):
    book = old("vera")
    book.document(CAP).pencil.set("jaws.kept_at", "cupboard 4")
    head = book.document(CAP).ink("a text of format 2 on top").commit
    git = Git(old_book)
    plain, index = (
        WalkedPast(git, DocumentCache(git)),
        IndexedPast(git, tmp_path / "c" / "i.sqlite"),
    )
    for past in (plain, index):
        past.refresh(head)
    assert list(index.rows_of_all(ChangeQuery())) == list(plain.rows_of_all(ChangeQuery()))
    assert not [r for r in index.rows_of_all(ChangeQuery(key=CAP_ID)) if "place" in r.address]
    index.close()
    git.close()
