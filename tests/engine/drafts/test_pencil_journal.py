"""The journal of pencil: torn, damaged, shared; nothing accepted is ever lost."""

import json
import multiprocessing
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from engine.drafts.marks import PencilMark, pack, unpack
from engine.drafts.pencil import Pencil, journals
from engine.drafts.replay import replay
from schemas.errors import BookError, Refused
from tests.counting import steps

AT = datetime(2026, 3, 2, 7, tzinfo=UTC)
BASE = "a" * 40


def mark(address, value, inked="0.0", note=""):
    as_number = None if value is None else Decimal(value)
    return PencilMark(address, as_number, Decimal(inked), BASE, AT, note)


def values(pencil):
    return {address: m.value for address, m in pencil.state().marks.items()}


def written(private):
    """A journal with one of each kind of entry; its path."""
    pencil = Pencil(private, "mira", "wm-seat10")
    pencil.put(
        [mark("positions.seat.reach", "612.500"), mark("jaws.bite", "7.6", "7.5", "Übermaß")]
    )
    pencil.put([mark("jaws.bite", "7.7", "7.5")])
    pencil.rub_out(["jaws.bite"], AT)
    pencil.bring_back()
    pencil.step("undo")
    pencil.step("redo")
    pencil.inked(pencil.state().draft, "b" * 40, [pack(mark("positions.seat.reach", "612.500"))])
    pencil.put([mark("notes.text", None)])
    return pencil.journal.path


def test_a_mark_comes_back_as_it_was_packed():
    for one in (mark("a.b", "104.250"), mark("a", None, note="found on disk")):
        assert unpack(json.loads(json.dumps(pack(one)))) == one


def test_a_journal_torn_at_any_byte_is_a_prefix_and_takes_the_next_entry(tmp_path):
    whole = written(tmp_path / "whole")
    data = whole.read_bytes()
    lines = data.split(b"\n")[:-1]
    states = [replay(map(json.loads, lines[:n])).marks for n in range(len(lines) + 1)]
    path = tmp_path / "torn" / "pencil" / "mira" / "wm-seat10.jsonl"
    path.parent.mkdir(parents=True)
    for cut in range(len(data) + 1):
        path.write_bytes(data[:cut])
        done = data[:cut].count(b"\n")
        pencil = Pencil(tmp_path / "torn", "mira", "wm-seat10")
        assert pencil.state().marks == states[done], cut
        pencil.put([mark("lot.quantity", "5")])
        after = Pencil(tmp_path / "torn", "mira", "wm-seat10").state().marks
        assert after == states[done] | {"lot.quantity": mark("lot.quantity", "5")}, cut
        assert pencil.state().marks == after


def test_one_bad_byte_never_keeps_a_book_from_opening(tmp_path):
    data = written(tmp_path).read_bytes()
    path = tmp_path / "pencil" / "mira" / "wm-seat10.jsonl"
    for place in range(len(data)):
        for bad in (0, data[place] ^ 1, ord('"')):
            path.write_bytes(data[:place] + bytes([bad]) + data[place + 1 :])
            (pencil,) = journals(tmp_path)
            for one in pencil.state().marks.values():
                assert pack(one)
                assert min(one.at, AT)


@pytest.mark.parametrize(
    "line",
    [
        "null",
        "5",
        '"x"',
        "[]",
        "{}",
        '{"do":"set"}',
        '{"do":"set","marks":[]}',
        '{"do":"set","marks":5}',
        '{"do":"set","marks":[{"address":"a"}]}',
        '{"do":"inked"}',
        '{"do":"dance","marks":[]}',
        '{"do":"undo","draft":5}',
        "[" * 10_000,
        '{"do":"rub-out","marks":["a"]}',
    ],
)
def test_lines_that_make_no_sense_are_passed_over(tmp_path, line):
    path = written(tmp_path)
    before = Pencil(tmp_path, "mira", "wm-seat10").state().marks
    with path.open("ab") as file:
        file.write(line.encode() + b"\n")
    pencil = Pencil(tmp_path, "mira", "wm-seat10")
    assert pencil.state().marks == before
    pencil.put([mark("lot.quantity", "5")])
    assert "lot.quantity" in values(pencil)


def test_a_refused_append_leaves_the_journal_as_it_was(tmp_path, monkeypatch):
    path = written(tmp_path)
    data = path.read_bytes()

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("engine.repo.journal.os.fdatasync", full)
    pencil = Pencil(tmp_path, "mira", "wm-seat10")
    before = pencil.state().marks
    with pytest.raises(BookError, match="space"):
        pencil.put([mark("lot.quantity", "5")])
    assert path.read_bytes() == data
    assert Pencil(tmp_path, "mira", "wm-seat10").state().marks == before


def test_a_journal_is_never_named_by_something_else(tmp_path):
    for person, document in (("../x", "wm-a"), ("mira", "../a"), ("", "wm-a"), ("mira", "a/b")):
        with pytest.raises(Refused):
            Pencil(tmp_path, person, document)
    assert Pencil(tmp_path, "_x", "cells." + "a" * 64)


def _write(private, prefix, count):
    pencil = Pencil(private, "mira", "wm-seat10")
    for n in range(count):
        pencil.put([mark(f"tools.{prefix}{n}.length", str(n + 1))])


def test_many_processes_of_one_person_lose_nothing(tmp_path):
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_write, args=(tmp_path, letter, 25)) for letter in "abcd"]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
        assert worker.exitcode == 0
    state = Pencil(tmp_path, "mira", "wm-seat10").state()
    assert set(state.marks) == {f"tools.{letter}{n}.length" for letter in "abcd" for n in range(25)}
    assert len({entry["draft"] for entry in state.done}) == 1


def test_an_edit_made_while_another_process_inks_stays_in_pencil(tmp_path):
    mine, other = (Pencil(tmp_path, "mira", "wm-seat10") for _ in range(2))
    mine.put([mark("jaws.bite", "8"), mark("part.height", "29")])
    planned = mine.state()
    other.put([mark("jaws.bite", "9"), mark("lot.quantity", "7")])
    mine.inked(planned.draft, "c" * 40, [pack(m) for m in planned.marks.values()])
    assert values(other) == {"jaws.bite": Decimal(9), "lot.quantity": Decimal(7)}


def test_what_was_left_by_an_ink_can_be_inked_again_and_again(tmp_path):
    """Each rest is a draft of its own; else the second one would never be closed."""
    mine, other = (Pencil(tmp_path, "mira", "wm-seat10") for _ in range(2))
    drafts = []
    for n in range(4):
        mine.put([mark("jaws.bite", str(n + 1))])
        planned = mine.state()
        other.put([mark("lot.quantity", str(n + 1))])
        for commit in (f"{n}a".ljust(40, "0"), f"{n}b".ljust(40, "0")):
            mine.inked(planned.draft, commit, [pack(m) for m in planned.marks.values()])
            drafts.append(planned.draft)
            planned = mine.state()
        assert values(mine) == {}
    assert "" not in drafts
    assert len(set(drafts)) == len(drafts)


def test_closing_a_draft_twice_changes_nothing(tmp_path):
    pencil = Pencil(tmp_path, "mira", "wm-seat10")
    pencil.put([mark("jaws.bite", "8")])
    state = pencil.state()
    packed = [pack(m) for m in state.marks.values()]
    pencil.inked(state.draft, "c" * 40, packed)
    pencil.put([mark("jaws.bite", "8")])  # the same again, later
    pencil.inked(state.draft, "c" * 40, packed)
    assert values(pencil) == {"jaws.bite": Decimal(8)}


class AgainstAModel(RuleBasedStateMachine):
    """Set, clear, undo, redo, rub-out, bring-back and ink, beside a model of plain dicts."""

    @initialize()
    def begin(self):
        import tempfile
        from pathlib import Path

        self.folder = tempfile.TemporaryDirectory()
        self.pencils = [Pencil(Path(self.folder.name), "mira", "wm-seat10") for _ in range(2)]
        self.ink = dict.fromkeys("abc", Decimal(0))
        self.marks: dict = {}
        self.acts: list = []  # marks before each act, with what was rubbed out and kept for back
        self.ahead: list = []
        self.rubbed: list = []
        self.commits = 0

    def teardown(self):
        self.folder.cleanup()

    def _act(self, marks, rubbed):
        self.acts.append((self.marks, self.rubbed))
        self.marks, self.rubbed, self.ahead = marks, rubbed, []

    @rule(which=st.integers(0, 1), a=st.sampled_from("abc"), v=st.sampled_from([None, 0, 1, 2]))
    def set(self, which, a, v):
        value = None if v is None else Decimal(v)
        self.pencils[which].put([PencilMark(a, value, self.ink[a], BASE, AT)])
        if self.marks.get(a, self.ink[a]) == value:
            return  # no news is no act
        marks = {k: x for k, x in self.marks.items() if k != a}
        self._act(marks if value == self.ink[a] else marks | {a: value}, self.rubbed)

    @rule(which=st.integers(0, 1))
    def undo(self, which):
        if not self.acts:
            assert self.pencils[which].step("undo") is None
            return
        self.pencils[which].step("undo")
        self.ahead.append((self.marks, self.rubbed))
        self.marks, self.rubbed = self.acts.pop()

    @rule(which=st.integers(0, 1))
    def redo(self, which):
        if not self.ahead:
            assert self.pencils[which].step("redo") is None
            return
        self.pencils[which].step("redo")
        self.acts.append((self.marks, self.rubbed))
        self.marks, self.rubbed = self.ahead.pop()

    @rule(which=st.integers(0, 1), some=st.sets(st.sampled_from("abc")))
    def rub_out(self, which, some):
        self.pencils[which].rub_out(sorted(some), AT)
        gone = {a: v for a, v in self.marks.items() if not some or a in some}
        if gone:
            rest = {a: v for a, v in self.marks.items() if a not in gone}
            self._act(rest, [*self.rubbed, gone])

    @rule(which=st.integers(0, 1))
    def bring_back(self, which):
        if not self.rubbed:
            assert self.pencils[which].bring_back() == []
            return
        self.pencils[which].bring_back()
        self._act(self.marks | self.rubbed[-1], self.rubbed[:-1])

    @precondition(lambda self: self.marks)
    @rule(which=st.integers(0, 1), late=st.sampled_from([None, "a", "b"]))
    def inked(self, which, late):
        state = self.pencils[which].state()
        if late:
            self.set(1 - which, late, 2)
        self.commits += 1
        packed = [pack(m) for m in state.marks.values()]
        self.pencils[which].inked(state.draft, f"{self.commits:040x}", packed)
        self.marks = {
            a: v for a, v in self.marks.items() if a not in state.marks or state.marks[a].value != v
        }
        self.acts, self.ahead = [], []

    @invariant()
    def both_processes_and_a_third_see_the_same(self):
        if not hasattr(self, "pencils"):
            return
        fresh = Pencil(self.pencils[0].journal.path.parents[2], "mira", "wm-seat10")
        for pencil in (*self.pencils, fresh):
            assert {a: m.value for a, m in pencil.state().marks.items()} == self.marks


AgainstAModel.TestCase.settings = settings(max_examples=30, stateful_step_count=30, deadline=None)
TestAgainstAModel = AgainstAModel.TestCase


def read_after(folder, inks):
    """Reads a journal of so many inks with nine edits each, and goes on writing in it."""
    pencil = Pencil(folder, "mira", "wm-seat10")
    pencil.put([mark("jaws.bite", "8")])
    line = pencil.journal.path.read_bytes()
    closing = {"do": "inked", "draft": "d-1", "commit": "c" * 40, "marks": []}
    with pencil.journal.path.open("ab") as file:
        for n in range(inks):
            file.write(line * 9 + json.dumps({**closing, "commit": f"{n:040x}"}).encode() + b"\n")

    def work():
        fresh = Pencil(folder, "mira", "wm-seat10")
        fresh.put([mark("lot.quantity", "5")])
        assert set(values(fresh)) == {"jaws.bite", "lot.quantity"}

    return steps(work)


def test_a_journal_of_years_is_no_more_work_than_its_length(tmp_path):
    short, long = (read_after(tmp_path / str(n), n) for n in (125, 500))
    assert long < 5 * short  # four times the edits


@pytest.mark.parametrize("folder", ["mira", "pencil"])
def test_a_first_mark_whose_folder_cannot_be_flushed_is_not_there(tmp_path, monkeypatch, folder):
    """Not accepted is not written; the next first mark flushes the folders again."""
    from engine.repo import journal

    flushed, real = [], journal.flush

    def flush(path):
        if path.name == folder and len(flushed) < 2:
            flushed.append(path)
            raise OSError(5, "Input/output error")
        real(path)

    monkeypatch.setattr(journal, "flush", flush)
    pencil = Pencil(tmp_path, "mira", "wm-seat10")
    for _ in range(2):
        with pytest.raises(BookError, match="disk refused"):
            pencil.put([mark("jaws.bite", "8")])
        assert values(Pencil(tmp_path, "mira", "wm-seat10")) == {}
        assert pencil.journal.path.read_bytes() == b""
    pencil.put([mark("jaws.bite", "9")])
    assert len(flushed) == 2
    assert values(Pencil(tmp_path, "mira", "wm-seat10")) == {"jaws.bite": Decimal(9)}


def test_whoever_writes_the_first_line_flushes_the_folders(tmp_path, monkeypatch):
    """Also where somebody else made the file and died before the first line."""
    from engine.repo import journal

    path = tmp_path / "pencil" / "mira" / "wm-seat10.jsonl"
    path.parent.mkdir(parents=True)
    path.touch()
    flushed = []
    monkeypatch.setattr(journal, "flush", lambda folder: flushed.append(folder.name))
    pencil = Pencil(tmp_path, "mira", "wm-seat10")
    for value in "89":
        pencil.put([mark("jaws.bite", value)])
    assert flushed[:2] == ["mira", "pencil"]
    assert len(flushed) == 4
