"""What a commit's message says of values, and the note of a save on its way: worked by hand."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from engine.book.commit_words import checked_reason, line, subject_of, trailers
from engine.book.intent import AsidePencil, InkedPencil, Intent, Todo, read_intent, write_intent
from engine.views import Change, Identity
from schemas.errors import UsageError

LONG = "w" * 60
A, B, C = "a" * 40, "b" * 40, "c" * 40
MARK = {
    "address": "jaws.bite", "value": "8.0", "inked": "7.5", "base": A,
    "at": "2026-03-02T06:01:00+01:00",
}  # fmt: skip


def change(address: str, old: object, new: object, unit: str = "") -> Change:
    delta = new - old if isinstance(old, Decimal) and isinstance(new, Decimal) else None
    return Change(address, old, new, unit, delta)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("item", "words"),
    [
        (change("a.b", Decimal("612.350"), Decimal("612.5"), "mm"),
         "a.b: 612.350 -> 612.5 mm (+0.150)"),
        (change("a.b", Decimal("5"), Decimal("4.5")), "a.b: 5 -> 4.5 (-0.5)"),
        (change("a.b", Decimal("5"), Decimal("5.0"), "s"), "a.b: 5 -> 5.0 s (+0.0)"),
        (change("a.b", None, "J-1"), "a.b: nothing -> J-1"),
        (change("a.b", "J-1", None, "mm"), "a.b: J-1 -> nothing mm"),
        (change("a.b", "one\n two", LONG), f"a.b: one two -> {LONG}"),
        (change("a.b", LONG + "x", "y"), f"a.b: {'w' * 59}… -> y"),
    ],
)  # fmt: skip
def test_one_change_on_one_line(item: Change, words: str) -> None:
    assert line(item) == words


@pytest.mark.parametrize(
    ("addresses", "respelt", "words"),
    [
        ((), 0, []),
        ((), 1, ["1 value spelt otherwise"]),
        ((), 3, ["3 values spelt otherwise"]),
        (("jaws.bite",), 2, ["jaws.bite: 1 -> 2"]),
        (("jaws.bite", "tray.across"), 0, ["jaws.bite: 1 -> 2", "tray.across: 1 -> 2"]),
        (("jaws.bite", "tray.across", "jaws.id"), 0, ["3 values in jaws, tray"]),
        (("positions.seat.lift", "positions.seat.reach", "positions.fetch.lift", "tools.T1.what"),
         0, ["4 values in positions.seat, positions.fetch, tools"]),
    ],
)  # fmt: skip
def test_what_changed_in_a_few_words(
    addresses: tuple[str, ...], respelt: int, words: list[str]
) -> None:
    assert subject_of([change(a, 1, 2) for a in addresses], respelt) == words


def test_the_trailers_say_all_that_history_asks_for() -> None:
    mira = Identity("mira", "Mira Falk", "m.falk", ("setter",))
    assert trailers(mira, "ink", "wm-seat10", " worn ", "d-1") == {
        "Kind": "ink", "Record": "wm-seat10", "Person": "mira", "Login": "m.falk",
        "Reason": "worn", "Draft": "d-1",
    }  # fmt: skip
    bare = trailers(mira, "run", "wm-seat10")
    assert (bare["Reason"], bare["Draft"]) == ("", "")


def test_a_reason_has_a_length_and_can_be_seen() -> None:
    assert checked_reason("w" * 2000) == "w" * 2000
    for reason in ("w" * 2001, "worn\x00", "worn\u202e"):
        with pytest.raises(UsageError) as refused:
            checked_reason(reason)
        assert refused.value.hint


# the note of a save


def full_note() -> Intent:
    """A save that inks pencil and puts some down, after two that could not do everything."""
    pencil = InkedPencil("mira", "wm-seat10", "d-1", [MARK])
    aside = AsidePencil("ole", "wm-bush20", [MARK])
    todo = Todo({"people.toml": [A, None]}, {"book.toml": [None]}, [(A, pencil)], [(B, aside)])
    return Intent(C, B, ["records/seat-op10.toml"], pencil, [aside], todo)


def test_a_note_comes_back_as_it_was_written(tmp_path: Path) -> None:
    file = tmp_path / "own" / "intent.json"
    assert read_intent(file) is None
    for note in (full_note(), Intent(C, B), Intent("", "")):
        write_intent(file, note)
        assert read_intent(file) == note


def test_a_note_of_an_earlier_program_says_less(tmp_path: Path) -> None:
    """It had one text a path, and knew neither files nor journals that were left."""
    file = tmp_path / "intent.json"
    told = {"commit": C, "parent": B, "paths": ["book.toml"], "pencil": None}
    file.write_text(json.dumps(told | {"behind": {"people.toml": A, "book.toml": None}}))
    assert read_intent(file) == Intent(
        C, B, ["book.toml"], todo=Todo(behind={"people.toml": [A], "book.toml": [None]})
    )


@pytest.mark.parametrize("gone", ["commit", "parent", "paths", "pencil", "behind"])
def test_a_note_without_a_part_is_none(tmp_path: Path, gone: str) -> None:
    file = tmp_path / "intent.json"
    write_intent(file, full_note())
    told = json.loads(file.read_text())
    del told[gone]
    file.write_text(json.dumps(told))
    assert read_intent(file) is None


def test_once_it_is_published_all_that_is_due_is_that_of_earlier_ones_too() -> None:
    before = {"records/seat-op10.toml": A}
    due = full_note().due(before)
    path, pencil = "records/seat-op10.toml", full_note().pencil
    assert due.files == {"people.toml": [A, None], path: [A]}
    assert due.behind == {"book.toml": [None], path: [A]}
    assert due.closing == [(A, pencil), (C, pencil)]
    assert due.asides == [(B, full_note().aside[0]), (C, full_note().aside[0])]


def test_each_text_that_saves_left_somewhere_is_known_once() -> None:
    note = Intent(C, B, ["book.toml"], todo=Todo({"book.toml": [A]}, {}))
    assert note.due({"book.toml": A}).files == {"book.toml": [A]}
    assert note.due({"book.toml": B}).files == {"book.toml": [A, B]}
    assert note.due({}).files == {"book.toml": [A, B, None]}
    assert Intent(C, B, []).due({}).closing == []


@pytest.mark.parametrize(
    ("todo", "open_"),
    [
        (Todo(), False),
        (Todo(files={"book.toml": []}), True),
        (Todo(behind={"book.toml": []}), True),
        (Todo(closing=[(A, InkedPencil("mira", "book", "d", []))]), True),
        (Todo(asides=[(A, AsidePencil("mira", "book", []))]), True),
    ],
)
def test_something_is_to_be_done_where_any_part_of_it_is(todo: Todo, open_: bool) -> None:
    assert bool(todo) == open_
