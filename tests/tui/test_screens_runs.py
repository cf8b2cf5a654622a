"""Runs on the screen: the log, and what a setter notes at the machine; the list's findings."""

import asyncio
import threading

from engine.book import Book
from engine.views import Sent, Waiting, Who
from tests.demo_book import RECORD
from tests.tui.fake_book import FINDINGS, FakeBook, on_stage, opener
from tui.app import WitnessmarkApp
from tui.screens import checking
from tui.screens.editor import Editor
from tui.widgets.paint import Paint


async def test_the_log_names_who_noted_what(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n")
        text = stage.text()
        assert "1 run, 2 wk ago; changed since it was read back" in text
        assert "run 1 of 110, 108 good, 2 scrap" in text
        assert "Ifeoma Tobande  read back at the machine" in text
        assert "without a blank first" in text
        assert "confirm" not in stage.page.keys_bar.text  # no run goes on


async def test_a_lot_is_noted_from_start_to_stop(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n", "s")
        assert "quantity: 110" in stage.text()
        await stage.press("ctrl+u")
        await stage.type("60 night shift")
        await stage.press("enter")
        assert "run 2 of 60, goes on" in stage.text()
        await stage.press("c")
        assert "Whoever reads this later" in stage.text()
        await stage.press("enter")
        assert "; read back (you, just now)" in stage.page.about.text
        await stage.press("p")
        assert "Stages of this record: 12, 40, 75, 100" in stage.text()
        await stage.type("40 %")
        await stage.press("enter", "k")
        await stage.type("first burr at the groove")
        await stage.press("enter", "r", "enter", "x")
        await stage.type("58 good 2 scrap")
        await stage.press("enter")
        assert "run 2 of 60, 58 good, 2 scrap" in stage.text()
        assert stage.page.lines.key == (2, 5)
    book = Book.open(folder, login="mosk", clock=clock)
    assert [(e.what, e.text) for e in book.document(RECORD).runs.log(2)] == [
        ("start", "night shift"),
        ("confirm", ""),
        ("stage", "40 % of full speed"),
        ("piece", "first piece, burr at the groove"),
        ("refill", ""),
        ("stop", "58 good, 2 scrap"),
    ]


async def test_what_cannot_be_read_stays_typed_with_the_reason(folder, clock):
    Book.open(folder, login="mosk", clock=clock).document(RECORD).runs.start()
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n", "x")
        await stage.type("58")
        await stage.press("enter")
        assert "Type good and scrap" in stage.text()
        assert "good and scrap: 58" in stage.page.status.text
        await stage.press("escape", "p")
        await stage.type("250")
        await stage.press("enter")
        assert "250 is no stage" in stage.text()
        await stage.press("escape")
        assert "run 2 of 110, goes on" in stage.text()


async def test_pencil_is_named_where_it_does_not_count(folder, clock):
    Book.open(folder, login="mosk", clock=clock).document(RECORD).pencil.set("jaws.bite", "9.4")
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n", "s")
        assert "You have 1 value in pencil; they do not count" in stage.text()


async def test_a_reader_notes_nothing(folder, clock):
    async with on_stage(folder, clock, login="jari") as stage:
        await stage.open()
        await stage.press("n", "s")
        assert "Runs of" in stage.page.title_bar.text
        assert "start" not in stage.page.keys_bar.text


async def test_the_list_is_checked_a_few_records_at_first_and_then_more(folder, clock, monkeypatch):
    asked: list[list[str]] = []
    real = FakeBook.check

    def check(self, names=()):
        asked.append(list(names))
        return real(self, names)

    monkeypatch.setattr(FakeBook, "check", check)
    monkeypatch.setattr(checking, "_FIRST", 3)
    async with on_stage(folder, clock, findings=FINDINGS) as stage:
        assert "1 error" in stage.line(RECORD)
        assert "none" in stage.line("wear-ring-op20")
        assert [len(names) for names in asked] == [3, 16]


async def test_the_list_says_what_was_not_synced_yet(folder, clock, monkeypatch):
    who = Who("mirela", "Mirela Oskanne")
    waiting = Waiting("/there", (Sent("c", clock.at, who, "one"), Sent("d", clock.at, who, "two")))
    monkeypatch.setattr(FakeBook, "waiting", lambda self: waiting)
    async with on_stage(folder, clock) as stage:
        assert "not yet synced: 2 saves" in stage.page.about.text


async def test_checks_that_take_long_keep_no_key_waiting(folder, clock, monkeypatch):
    go_on = threading.Event()
    monkeypatch.setattr(FakeBook, "check", lambda self, names=(): go_on.wait(20) and [])
    app = WitnessmarkApp(opener(folder, clock), RECORD, clock=clock, paint=Paint())
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(200):
            await pilot.pause(0.02)
            if (
                isinstance(app.screen, Editor)
                and app.screen.document.contents
                and not app.clerk.busy
            ):
                break
        app.screen.document.goto("jaws.bite")
        await pilot.press("9", "enter")
        await pilot.pause(0.1)
        await asyncio.to_thread(app.clerk.settle)
        await pilot.pause(0.1)
        assert app.screen.status.text == "In pencil: bite 9 mm"
        assert "pencil changes" in app.screen.figures_bar.text
        go_on.set()
