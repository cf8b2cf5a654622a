"""Files on disk, bad files, and what came in outside the program: the finer points."""

from __future__ import annotations

import random

import pytest

from engine.checks.book_view import BookView
from engine.checks.changes import last_change
from engine.log.trace import covering, trace
from schemas.toml import write_toml
from tests.mini_book import session_of

from .conftest import ONE, TWO, Mini
from .faults import FAULTS

FILE_ONE = f"records/{ONE}.toml"


def rules(mini: Mini) -> list[str]:
    return [finding.rule for finding in mini.findings()]


# a bad file hides nothing


@pytest.mark.parametrize("bad", [b"\xff\xfe", b"= = =", b"format = 2\n", b"", b"[[record]]\n"])
def test_a_bad_record_hides_nothing_of_the_others(mini: Mini, bad: bytes) -> None:
    FAULTS["outside-travel"].break_it(mini)
    assert mini.book
    mini.write(f"records/{TWO}.toml", bad)
    mini.by_hand()
    found = mini.findings()
    assert ("outside-travel", ONE) in [(f.rule, f.record) for f in found]
    assert ("unreadable", TWO) in [(f.rule, f.record) for f in found]
    rules_of_it = {"unreadable", "file-unlinked", "taken-out"}  # it says its identity no more
    assert {f.rule for f in found} <= {"outside-travel", *rules_of_it}


@pytest.mark.parametrize("path", ["people.toml", "book.toml", "cells/north.toml"])
def test_a_bad_book_people_or_cell_hides_nothing(mini: Mini, path: str) -> None:
    FAULTS["no-photo"].break_it(mini)
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.book.document(ONE).pencil.set("jaws.bite", "9.0")
    mini.book.document(ONE).ink("bored anew")
    mini.write(path, b"format = 1\nwrong = 2\n")
    mini.by_hand()
    mini.go(days=9)
    found = rules(mini)
    assert "unreadable" in found
    assert "rule-failed" not in found
    assert {"no-photo", "contested-pencil"} <= set(found)
    assert ("stale-pencil" in found) == (path != "book.toml")
    assert not {"pencil-left-behind", "no-lead", "unknown-cell", "program-outside"} & set(found)


def test_every_reason_has_its_line(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, 'part = "Cup"', "part = 5")
    mini.edit(FILE_ONE, "bite = 7.5", 'bite = "deep"\nbitten = 2')
    mini.by_hand()
    lines = (mini.folder / FILE_ONE).read_text().split("\n")
    found = [f for f in mini.findings() if f.rule == "unreadable"]
    assert [(f.address, lines[f.line - 1]) for f in found] == [
        ("record.part", "part = 5"),
        ("jaws.bite", 'bite = "deep"'),
        ("jaws.bitten", "bitten = 2"),
    ]


def test_a_bad_text_on_disk_is_told_with_its_line_and_the_inked_one_still_checked(
    mini: Mini,
) -> None:
    FAULTS["outside-travel"].break_it(mini)
    assert mini.book
    mini.edit(FILE_ONE, "bite = 7.5", "bite = deep")
    assert [(f.rule, f.file, bool(f.line)) for f in mini.findings()] == [
        ("outside-travel", FILE_ONE, False),  # the line on disk may be another
        ("unreadable", FILE_ONE, True),
    ]


def test_a_record_behind_a_link_is_not_read(mini: Mini) -> None:
    assert mini.book
    (mini.folder / FILE_ONE).unlink()
    (mini.folder / FILE_ONE).symlink_to("/etc/passwd")
    (found,) = mini.findings()
    assert found.rule == "unreadable"
    assert "symbolic link" in found.message


def test_bad_runs_sign_offs_events_and_strays(mini: Mini) -> None:
    assert mini.book
    for path in ("runs/wm-aaaaa1/a.toml", "signoffs/wm-aaaaa1/b.toml", "events/north/c.toml"):
        mini.write(path, b"=")
    mini.by_hand()
    mini.write("records/new.toml", b"=")
    found = mini.findings()
    assert [(f.rule, f.record, f.file) for f in found] == [
        ("unreadable", "cells/north", "events/north/c.toml"),
        ("unreadable", ONE, "runs/wm-aaaaa1/a.toml"),
        ("unreadable", ONE, "signoffs/wm-aaaaa1/b.toml"),
        ("unreadable", "new", "records/new.toml"),
        ("never-inked", "new", "records/new.toml"),
    ]


def test_a_damaged_journal_hides_no_other_pencil(mini: Mini) -> None:
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.book.document(TWO).pencil.set("jaws.bite", "8.0")
    (journal,) = mini.folder.glob(".git/witnessmark/pencil/bo/*.jsonl")
    journal.write_text('{"do": "set"}\n')
    mini.go(days=9)
    found = mini.findings()
    assert [(f.rule, f.record) for f in found] == [("unreadable", ONE), ("stale-pencil", TWO)]
    assert "Bo Ferrer" in found[0].message
    assert (found[0].line, found[0].file) == (0, f".git/witnessmark/pencil/bo/{journal.name}")


# on disk


def test_each_value_that_differs_on_disk_has_its_line_there(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "[jaws]", "# bored on Monday\n[jaws]")
    mini.edit(FILE_ONE, "bite = 7.5", "bite = 8.0")
    mini.edit(FILE_ONE, "reach = 310.250", "reach = 310.500")
    lines = (mini.folder / FILE_ONE).read_text().split("\n")
    found = mini.findings()
    assert [(f.rule, f.address, f.message, lines[f.line - 1]) for f in found] == [
        (
            "position-on-disk",
            "positions.seat.reach",
            "310.500 on disk, 310.250 inked",
            "reach = 310.500",
        ),
        ("found-on-disk", "jaws.bite", "8.0 on disk, 7.5 inked", "bite = 8.0"),
    ]
    mini.book.document(ONE).on_disk.put_back()
    assert mini.findings() == []


def test_another_spelling_or_a_comment_is_told_without_an_address(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "bite = 7.5", "bite = 7.50 # measured")
    (found,) = mini.findings()
    assert (found.rule, found.address) == ("found-on-disk", "")


def test_many_changes_on_disk_are_said_in_a_few_words(mini: Mini) -> None:
    assert mini.book
    more = "".join(f"[tools.T{n}]\nstick_out = {n}\n" for n in range(1, 31))
    mini.write(FILE_ONE, (mini.folder / FILE_ONE).read_bytes() + more.encode())
    found = mini.findings()
    assert len(found) == 13
    assert any("18 more" in f.message for f in found)


def test_cells_people_and_the_book_are_looked_at_too(mini: Mini) -> None:
    assert mini.book
    mini.edit("cells/north.toml", "most = 500", "most = 600")
    mini.edit("people.toml", "Bo Ferrer", "Bob Ferrer")
    (mini.folder / "book.toml").unlink()
    assert [(f.rule, f.record) for f in mini.findings()] == [
        ("gone-from-disk", "book"),
        *[("found-on-disk", "cells/north")] * 2,
        ("found-on-disk", "people"),
    ]


def test_a_copied_file_on_disk_carries_the_identity_of_the_other(mini: Mini) -> None:
    FAULTS["duplicate-id"].break_it(mini)
    found = [(f.record, f.file) for f in mini.findings() if f.rule == "duplicate-id"]
    assert found == [("cup-op10", FILE_ONE), ("cup-op11", "records/cup-op11.toml")]
    mini.by_hand()
    found = [(f.record, f.file) for f in mini.findings() if f.rule == "duplicate-id"]
    assert found == [("cup-op10", FILE_ONE), ("cup-op11", "records/cup-op11.toml")]


# by hand


def test_a_position_by_hand_is_told_until_it_is_taught_again(mini: Mini) -> None:
    FAULTS["position-by-hand"].break_it(mini)
    mini.edit(FILE_ONE, "bite = 7.5", "bite = 8.0")
    mini.by_hand()
    (found,) = mini.findings()
    assert (found.level, found.address) == ("error", "positions.seat.lift")
    assert "89.000 -> 89.500 mm (+0.500) by commit" in found.message
    assert "By Hand, 2026-03-02" in found.message
    mini.book.document(ONE).pencil.set("positions.seat.lift", "89.250")
    mini.book.document(ONE).ink("taught again")
    assert mini.findings() == []


def test_a_sign_off_accepts_a_position_by_hand(mini: Mini) -> None:
    FAULTS["position-by-hand"].break_it(mini)
    assert rules(mini) == ["position-by-hand"]
    mini.book.document(ONE).sign_off()
    assert mini.findings() == []
    mini.edit(FILE_ONE, "lift = 89.500", "lift = 89.750")
    mini.by_hand()
    assert rules(mini) == ["position-by-hand"]


def test_a_sign_off_by_hand_accepts_nothing(mini: Mini) -> None:
    mini.book.document(ONE).sign_off()
    (signed,) = (mini.folder / "signoffs/wm-aaaaa1").glob("*.toml")
    FAULTS["position-by-hand"].break_it(mini)
    mini.book.refresh()
    head = mini.book.head
    text = signed.read_text()
    forged = text.replace(signed.stem, "20260302-2359-beef")
    was = next(line for line in text.splitlines() if line.startswith("commit = "))
    forged = forged.replace(was, f'commit = "{head}"')
    mini.write("signoffs/wm-aaaaa1/20260302-2359-beef.toml", forged.encode())
    mini.by_hand()
    mini.book.refresh()
    assert len([m for m in mini.book.document(ONE).past.marks() if m.kind == "sign-off"]) == 2
    assert "position-by-hand" in rules(mini)
    mini.book.document(ONE).sign_off()
    assert "position-by-hand" not in rules(mini)


def test_a_sign_off_changed_by_hand_accepts_nothing_any_more(mini: Mini) -> None:
    FAULTS["position-by-hand"].break_it(mini)
    mini.book.document(ONE).sign_off()
    assert mini.findings() == []
    (signed,) = (mini.folder / "signoffs/wm-aaaaa1").glob("*.toml")
    mini.edit(str(signed.relative_to(mini.folder)), "[sign_off]", "# looked at\n[sign_off]")
    mini.by_hand()
    assert "position-by-hand" in rules(mini)


def test_a_record_that_came_by_hand_is_told_once(mini: Mini) -> None:
    assert mini.book
    tree = {**mini.one, "record": {**mini.one["record"], "id": "wm-bbbbb1"}}
    mini.write("records/cup-op30.toml", write_toml(tree))
    mini.by_hand()
    (found,) = mini.findings()
    assert (found.rule, found.record) == ("position-by-hand", "cup-op30")
    assert found.message.startswith("4 values came with the record by commit")


def test_a_run_that_is_stopped_is_not_open(mini: Mini) -> None:
    mini.book.document(ONE).runs.start(20)
    mini.book.document(ONE).runs.stop(20, 0)
    mini.book.document(TWO).runs.start(20)
    assert mini.findings() == []


# the fast way back through a life says what the plain one says


def test_the_last_change_is_that_of_the_plain_trace(mini: Mini) -> None:
    book, dice = mini.book, random.Random(7)
    addresses = ("jaws.bite", "jaws.id", "positions.seat.lift", "notes.text", "lot.quantity")
    for n in range(25):
        mini.go(minutes=1)
        chosen = dice.sample(addresses, 2)
        typed = {a: str(n + 100) for a in chosen}
        book.document(ONE).pencil.set_all(typed)
        book.document(ONE).ink("again")
        if n % 7 == 3:
            mini.edit(FILE_ONE, "bite", "# by hand\nbite")
            mini.by_hand()
        if n == 12:
            mini.write(FILE_ONE, b"= no TOML\n" + (mini.folder / FILE_ONE).read_bytes())
            mini.by_hand()
            mini.edit(FILE_ONE, "= no TOML\n", "")
            mini.by_hand()
        book.refresh()
        session = session_of(book)
        view = BookView(session).view_of(session.find(ONE))
        for table in ("jaws", "positions", "positions.seat", "notes", "lot", "program"):
            plain = trace(session_of(book).past, view.held.key, covering(table), lambda _: "")
            began = view.life[0].saved.id
            wanted = [item.commit for item in plain if item.commit != began]
            at = last_change(view, table, bool)
            assert (view.life[at].saved.id if at is not None else None) == (
                wanted[-1] if wanted else None
            )
