"""Inking, what comes in its way, and going back."""

from pathlib import Path

import pytest

from engine.book import Book
from tests.demo_book import RECORD
from tests.shop_floor import Clock
from tests.tui.fake_book import on_stage

SEAT = "positions.seat.lift"


def _book(folder: Path, clock: Clock, login: str = "mosk") -> Book:
    return Book.open(folder, login=login, clock=clock)


async def test_a_reason_is_asked_for_and_goes_into_history(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        assert "1 value will be inked as Mirela Oskanne" in stage.text()
        assert "+0.150 mm" in stage.line(SEAT)
        await stage.press("enter")
        assert "A reason is needed" in stage.text()
        await stage.type("seat taught anew")
        await stage.press("enter")
        if "What to know now" in stage.text():
            await stage.press("escape")
        assert "303.79" in stage.line(">  lift")
        assert "In ink: 1 value" in stage.text()
    last = _book(folder, clock).document(RECORD).past.trace(SEAT)[-1]
    assert (str(last.change.new), last.reason, last.who.key) == (
        "303.79",
        "seat taught anew",
        "mirela",
    )


async def test_not_now_keeps_the_pencil(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i", "w", "escape")
        assert stage.line("303.79").startswith(">~")


async def test_nothing_in_pencil_is_nothing_to_ink(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("i")
        assert "nothing to ink" in stage.text()


async def _contested(folder: Path, clock: Clock) -> None:
    _book(folder, clock).document(RECORD).pencil.set(SEAT, "303.790")
    clock.go(minutes=10)
    lead = _book(folder, clock, "itob")
    lead.document(RECORD).pencil.set(SEAT, "303.500")
    lead.document(RECORD).ink("measured again")
    clock.go(minutes=5)


async def test_contested_pencil_shows_both_sides_and_picks_no_winner(folder, clock):
    await _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        assert stage.line("303.790").startswith(">! lift")
        assert stage.page.keys_bar.text.startswith("d decide")
        await stage.press("i")  # asks first
        text = stage.text()
        assert "Ifeoma Tobande" in text
        assert "303.500 mm" in text
        assert "303.790 mm" in text
        await stage.press("escape")
        assert stage.line("303.790").startswith(">!")
        await stage.press("d", "m", "enter")
        assert stage.line("303.790").startswith(">~")


async def test_taking_theirs_rubs_out_and_can_be_brought_back(folder, clock):
    await _contested(folder, clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("d", "t", "enter")
        assert "303.500" in stage.line(">  lift")
        await stage.press("b")
        assert stage.line("303.790").startswith(">!")


def _by_hand(folder: Path) -> None:
    path = folder / "records" / f"{RECORD}.toml"
    path.write_text(path.read_text().replace("seconds = 1.3", "seconds = 2.5"))


@pytest.mark.parametrize(("answer", "in_pencil"), [("p", True), ("b", False), ("escape", False)])
async def test_what_was_found_on_disk_is_asked_about(folder, clock, answer, in_pencil):
    _by_hand(folder)
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blow_off.seconds")
        assert "changed on disk" in stage.text()
        await stage.press("o")
        assert "changed outside this program" in stage.text()
        assert "blow_off.seconds" in stage.text()
        await stage.press(answer, *(["enter"] if answer != "escape" else []))
        assert ("2.5" in stage.line("seconds")) == in_pencil
    text = (folder / "records" / f"{RECORD}.toml").read_text()
    assert ("seconds = 2.5" in text) == (answer == "escape")


async def test_inking_over_a_hand_edit_asks_first(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i", "x")
        _by_hand(folder)
        await stage.press("enter")
        assert "seconds = 2.5" in (folder / "records" / f"{RECORD}.toml").read_text()
        assert "isk" in stage.text()


async def test_a_value_goes_back_with_a_reason(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("m", "end", "v", "v")
        assert f"Restore {SEAT} from ink-1" in stage.text()
        assert "303.640" in stage.line(SEAT)
        await stage.type("back as it was")
        await stage.press("enter")
        if "What to know now" in stage.text():
            await stage.press("escape")
        assert "Restored in a new ink: 1 value" in stage.text()
    book = _book(folder, clock)
    assert str(book.document(RECORD).values()[SEAT]) == "303.440"
    assert book.document(RECORD).past.trace(SEAT)[-1].reason == "back as it was"


async def test_a_section_is_listed_before_it_goes_back(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.bite")
        await stage.press("m", "end", "v", "s")
        assert "Restore jaws from ink-1" in stage.text()
        assert "jaws.clamp_pressure" in stage.text()
        assert SEAT not in stage.text()
        await stage.press("escape")
    assert str(_book(folder, clock).document(RECORD).values()["jaws.clamp_pressure"]) == "16"


async def test_nothing_to_restore_is_said_and_left_with_esc(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.bite")
        await stage.press("m", "v", "v")
        assert "nothing to restore" in stage.text()
        await stage.press("enter", "escape")
        assert stage.page.title_bar.text.startswith(" Marks")
        assert "something went wrong" not in stage.text()


# some of the pencil only, and a second terminal of the same person

BLOW, REACH = "blow_off.seconds", "positions.seat.reach"


def _pencilled(folder, clock, *addresses):
    mine = _book(folder, clock)
    for address in addresses:
        mine.document(RECORD).pencil.set(address, "301.5" if "positions" in address else "2.5")


async def _only(stage, reason):
    await stage.type(reason)
    await stage.press("enter")
    if "What to know now" in stage.text():
        await stage.press("escape")


async def test_tab_inks_only_the_value_that_one_came_from(folder, clock):
    _pencilled(folder, clock, BLOW)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        assert "2 values will be inked" in stage.text()
        assert "Tab only lift" in stage.page.keys_bar.text
        await stage.press("tab")
        assert "1 value will be inked" in stage.text()
        assert f"In pencil stays: {BLOW}." in stage.text()
        assert "Tab all of it" in stage.page.keys_bar.text
        await stage.press("tab")
        assert "2 values will be inked" in stage.text()
        await stage.press("tab")
        await _only(stage, "seat taught anew")
        assert "In ink: 1 value" in stage.text()
    left = _book(folder, clock).document(RECORD).pencil.draft()
    assert [mark.address for mark in left.marks] == [BLOW]


async def test_tab_goes_on_to_what_belongs_together(folder, clock):
    _pencilled(folder, clock, BLOW, REACH)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i", "tab", "tab")
        assert "2 values will be inked" in stage.text()
        assert f"In pencil stays: {BLOW}." in stage.text()
        await _only(stage, "seat taught anew")
    left = _book(folder, clock).document(RECORD).pencil.draft()
    assert [mark.address for mark in left.marks] == [BLOW]


async def test_one_value_leaves_nothing_to_choose(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        assert "Tab" not in stage.page.keys_bar.text
        await stage.press("tab")
        assert "1 value will be inked" in stage.text()


async def test_a_value_only_needs_its_own_reason(folder, clock):
    _pencilled(folder, clock, SEAT)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=BLOW)
        await stage.type("2.5")
        await stage.press("enter", "i", "enter")
        assert "A reason is needed" in stage.text()
        await stage.press("tab")
        await _only(stage, "")
        assert "In ink: 1 value" in stage.text()


async def test_the_other_terminal_was_faster_and_that_is_told(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        await stage.type("taught anew")
        _book(folder, clock).document(RECORD).ink("rubbed on the way in")
        await stage.press("enter")
        text = " ".join(stage.text().split())
        assert "with the reason 'rubbed on the way in'" in text
        assert "your reason 'taught anew' was not used" in text
        await stage.press("escape")
        assert "There is nothing in pencil here." in stage.text()
        assert "'rubbed on the way in'" in " ".join(stage.text().split())


async def test_what_the_other_terminal_pencilled_meanwhile_is_not_inked_unseen(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        await stage.type("taught anew")
        _pencilled(folder, clock, BLOW)
        await stage.press("enter")
        assert "In ink: 1 value" in stage.text() or "What to know now" in stage.text()
    left = _book(folder, clock).document(RECORD).pencil.draft()
    assert [mark.address for mark in left.marks] == [BLOW]


async def test_and_what_belongs_together_with_it_is_shown_first(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        await stage.type("taught anew")
        _pencilled(folder, clock, REACH)
        await stage.press("enter")
        assert "2 values will be inked" in stage.text()
        assert "You pencilled more of it elsewhere" in stage.text()
        await _only(stage, "")
        assert "In ink: 2 values" in stage.text()
