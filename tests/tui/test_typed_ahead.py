"""What is typed before it is seen decides nothing: bursts, pastes, slow books, slow lines.

`burst` posts keys at once, before any page that they open was painted; `HeldEchoes` is
a line so slow that no answer of the terminal has come yet. No test waits for a clock.
"""

import asyncio
import threading
from dataclasses import replace

import pytest
from textual import events

from engine.book import Book, DocumentHandle
from engine.views import Inked
from tests.demo_book import RECORD
from tests.tui.fake_book import FakeBook, on_stage, share_the_box
from tests.tui.terminal_line import Line
from tui.screens.noting import ASKED, Said
from tui.widgets.echo import EchoCame, Echoes

SEAT = "positions.seat.lift"


def _book(folder, clock, login="mosk"):
    return Book.open(folder, login=login, clock=clock)


def _pencil(folder, clock):
    draft = _book(folder, clock).document(RECORD).pencil.draft()
    return {m.address: str(m.value) for m in draft.marks} if draft else {}


def _contested(folder, clock):
    _book(folder, clock).document(RECORD).pencil.set(SEAT, "303.790")
    clock.go(minutes=10)
    lead = _book(folder, clock, "itob")
    lead.document(RECORD).pencil.set(SEAT, "303.500")
    lead.document(RECORD).ink("measured again")
    clock.go(minutes=5)


def _keys(text):
    return ["space" if sign == " " else sign for sign in text]


class HeldEchoes:
    """Echoes that come when a test says so."""

    def __init__(self, monkeypatch):
        self.asked = []
        real = Echoes.ask

        def ask(echoes):
            post = echoes._bench.post_message
            echoes._bench.post_message = self.asked.append
            try:
                return real(echoes)
            finally:
                echoes._bench.post_message = post

        monkeypatch.setattr(Echoes, "ask", ask)

    async def come(self, stage):
        """All that were asked for."""
        for message in self.asked:
            stage.app.post_message(EchoCame(message.number))
        self.asked.clear()
        await stage.settle()


@pytest.mark.parametrize("reason", ["taught higher", "t", "m", "measured twice at the seat"])
async def test_a_reason_typed_ahead_decides_no_contested_page(folder, clock, reason):
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.burst("i", *_keys(reason), "enter")
        assert stage.page.title_bar.text.strip().startswith("Contested pencil")
        assert "Nothing is chosen yet" in stage.text() or "nothing is done" in stage.text()
        await stage.press("escape")
        assert stage.line("303.790").startswith(">!")
    assert _pencil(folder, clock) == {SEAT: "303.790"}


async def test_a_letter_chooses_is_told_in_words_and_enter_does_it(folder, clock):
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("d", "enter")  # nothing chosen: as Esc
        assert _pencil(folder, clock) == {SEAT: "303.790"}
        await stage.press("d", "t")
        assert stage.page.status.text.startswith("Enter: theirs: rub out my pencil")
        assert stage.line("theirs:").startswith("> t")
        assert "Enter do what is chosen" in stage.page.keys_bar.text
        assert _pencil(folder, clock) == {SEAT: "303.790"}
        await stage.press("a")  # means nothing here, and so lets go of what was chosen
        assert "Nothing is chosen yet" in stage.text()
        await stage.press("up", "enter")
        assert "b brings it back" in stage.text()
        assert _pencil(folder, clock) == {}
        await stage.press("b")
        assert _pencil(folder, clock) == {SEAT: "303.790"}


async def test_choice_and_enter_of_one_burst_do_nothing(folder, clock):
    """A raw paste into the page, for one: its Enter came before its choice was seen."""
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("d")
        await stage.burst("t", "enter")
        assert _pencil(folder, clock) == {SEAT: "303.790"}
        assert "nothing is done" in stage.text()
        await stage.press("enter")  # what was chosen is seen by now
        assert _pencil(folder, clock) == {}


async def test_over_a_slow_line_no_key_counts_before_the_terminal_has_answered(
    folder, clock, monkeypatch
):
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        line = HeldEchoes(monkeypatch)
        await stage.press("d", "t", "enter", "t", "enter")
        assert stage.page.lines.key == ("option", "")
        await line.come(stage)
        await stage.press("t", "enter")  # the choice is painted, and not seen yet
        assert _pencil(folder, clock) == {SEAT: "303.790"}
        await line.come(stage)
        await stage.press("enter")
        assert _pencil(folder, clock) == {}


async def test_esc_steps_back_at_any_time(folder, clock, monkeypatch):
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        HeldEchoes(monkeypatch)
        await stage.burst("d", "t", "escape")
        assert RECORD in stage.page.title_bar.text
    assert _pencil(folder, clock) == {SEAT: "303.790"}


async def test_rubbing_out_and_hand_edits_ignore_a_burst(folder, clock):
    _book(folder, clock).document(RECORD).pencil.set(SEAT, "303.790")
    path = folder / "records" / f"{RECORD}.toml"
    edited = path.read_text().replace("seconds = 1.3", "seconds = 2.5")
    path.write_text(edited)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.burst("e", "a", "enter")
        await stage.press("escape")
        await stage.burst("o", "b", "enter")
        await stage.press("escape")
        await stage.burst("o", "p", "enter")
        await stage.press("escape")
    assert _pencil(folder, clock) == {SEAT: "303.790"}
    assert path.read_text() == edited


async def test_an_ink_needs_an_enter_that_saw_the_list_and_keeps_the_typed_reason(folder, clock):
    before = _book(folder, clock).head
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter")
        await stage.burst("i", *_keys("seat taught"), "enter")
        assert _book(folder, clock).head == before
        assert "Reason: seat taught" in stage.page.detail.text
        assert "nothing is done" in stage.text()
        await stage.press("enter")
        assert _book(folder, clock).head != before


async def test_a_restore_needs_an_enter_that_saw_the_list(folder, clock):
    before = _book(folder, clock).head
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("m", "end")
        await stage.burst("v", "v", *_keys("as it was"), "enter")
        assert "Restore" in stage.page.title_bar.text
        assert _book(folder, clock).head == before
        await stage.press("enter")
    assert _book(folder, clock).head != before


@pytest.mark.parametrize("keys", [("c", "enter"), ("x", "9", "space", "1", "enter")])
async def test_a_run_is_neither_confirmed_nor_stopped_by_a_burst(folder, clock, keys):
    _book(folder, clock).document(RECORD).runs.start()
    before = _book(folder, clock).head
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n")
        await stage.burst(*keys)
        assert _book(folder, clock).head == before
        assert "nothing is done" in " ".join(stage.text().split()).lower()
        await stage.press("enter")
        assert _book(folder, clock).head != before


async def test_an_enter_kept_while_the_book_worked_does_not_try_again_what_was_refused(
    folder, clock, monkeypatch
):
    _book(folder, clock).document(RECORD).runs.start()
    tried: list[Said] = []

    def act(record: DocumentHandle, said: Said) -> Inked:
        tried.append(said)
        return ASKED["piece"].act(record, said)  # refuses: it is neither first nor last

    monkeypatch.setitem(ASKED, "stage", replace(ASKED["stage"], act=act))
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n", "p")
        await stage.type("40")
        await stage.burst("enter", "enter", "enter")
        assert len(tried) == 1
        assert "Type first or last" in stage.text()


async def test_nobody_is_chosen_by_what_was_typed_before_the_names_were_seen(folder, clock):
    share_the_box(folder, clock)
    async with on_stage(folder, clock, login="shopfloor") as stage:
        assert stage.line("nobody").startswith("> 0")
        await stage.burst("2", "enter")
        assert "who are you?" in stage.text()
        assert "Enter: you are Mirela Oskanne" in stage.text() or "nothing is done" in stage.text()
        await stage.press("escape", "enter")
        assert "read only" in stage.page.title_bar.text


async def test_leaving_is_not_done_by_what_was_typed_before(folder, clock):
    _book(folder, clock).document(RECORD).pencil.set(SEAT, "303.700")
    async with on_stage(folder, clock) as stage:
        await stage.burst("q", "q", "enter", "q", "enter")
        assert stage.app.is_running
        assert "Leaving: your pencil stays" in stage.text()
        await stage.press("down", "down", "enter")
        assert stage.page.title_bar.text.strip().startswith(RECORD)
        await stage.press("escape", "q", "q", "enter")
        assert stage.app.return_value == 0


async def test_a_paste_acts_on_no_page_that_lists_or_decides(folder, clock):
    _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        stage.app.post_message(events.Paste("q\rx\r"))
        await stage.settle()
        assert "Witnessmark" in stage.page.title_bar.text
        await stage.open(address=SEAT)
        for key in ("d", "e"):
            await stage.press(key)
            stage.app.post_message(events.Paste("ta\r\nt\r"))
            await stage.settle()
            assert stage.page.lines.key == ("option", "")
            await stage.press("escape")
    assert _pencil(folder, clock) == {SEAT: "303.790"}


async def test_keys_typed_while_a_slow_book_loads_the_page_decide_nothing(
    folder, clock, monkeypatch
):
    _contested(folder, clock)
    go_on, real = threading.Event(), FakeBook.document

    def slow(self, name):
        if slow.now:
            assert go_on.wait(20)
        return real(self, name)

    slow.now = False
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        monkeypatch.setattr(FakeBook, "document", slow)
        slow.now = True
        for key in ("i", *_keys("taught higher"), "enter"):
            await stage.pilot.press(key)
        go_on.set()
        await asyncio.sleep(0)
        await stage.settle()
        await stage.press("escape")
    assert _pencil(folder, clock) == {SEAT: "303.790"}


class _Line:
    """A bench with a terminal, and time that a test lets pass."""

    def __init__(self):
        self.written, self.timers, self.came = [], [], []

    def terminal(self):
        return self.written.append

    def set_timer(self, after, call):
        self.timers.append(call)

    def post_message(self, message):
        self.came.append(message)


def _answer(written):
    row, column = written[2:].split("H")[0].split(";")
    return int(column) - 1, int(row) - 1


def test_the_answer_of_a_terminal_tells_keys_before_it_from_keys_after():
    line = _Line()
    echoes = Echoes(line)
    first = echoes.ask()
    assert echoes.stamp("t", "t").echo < first
    echoes.answered(*_answer(line.written[-1]))
    assert echoes.stamp("t", "t").echo == first
    second, third = echoes.ask(), echoes.ask()
    echoes.answered(5, 0)  # where no number stands: a key with Shift, in some terminals
    assert echoes.stamp("t", "t").echo == first
    echoes.answered(*_answer(line.written[-1]))  # the answer to the second one was lost
    assert echoes.stamp("t", "t").echo == third > second
    echoes.answered(*_answer(line.written[-2]))  # and came late
    assert echoes.stamp("t", "t").echo == third


def test_a_terminal_that_never_answers_has_shown_it_once_it_was_quiet():
    line = _Line()
    echoes = Echoes(line)
    first = echoes.ask()
    echoes.stamp("t", "t")
    line.timers.pop()()  # a key came meanwhile: not quiet
    assert echoes.stamp("enter", None).echo < first
    line.timers.pop()()
    line.timers.pop()()
    assert echoes.stamp("enter", None).echo == first


def test_a_terminal_that_answers_is_waited_for_and_one_that_ceases_to_is_not():
    line = _Line()
    echoes = Echoes(line)
    echoes.ask()
    line.timers.pop()
    echoes.answered(*_answer(line.written[-1]))
    for _ in range(8):
        echoes.ask()
    assert not line.timers
    last = echoes.ask()
    line.timers.pop()()
    assert echoes.stamp("enter", None).echo == last


@pytest.mark.parametrize("answers", [True, False])
def test_a_reason_sent_in_one_write_decides_nothing_on_a_real_terminal(folder, clock, answers):
    _contested(folder, clock)
    line = Line(folder, RECORD, answers=answers)
    line.until("contested: d")
    line.child.send("itaught higher\r")  # one write, before the page that comes is there
    line.until("Contested pencil")
    line.until("othing is ")  # chosen yet, or done
    assert _pencil(folder, clock) == {SEAT: "303.790"}
    line.send("t")
    assert "Enter: theirs" in line.text()
    assert _pencil(folder, clock) == {SEAT: "303.790"}
    line.send("\r")
    line.until("b brings it back")
    assert _pencil(folder, clock) == {}
    line.child.close(force=True)
