"""Figures on the screen: what a pencil edit does, margins, pictures, and where a value stands."""

import pytest

from engine.book import Book
from engine.views import FigureChange
from tests.demo_book import RECORD
from tests.tui.fake_book import Stage, on_stage
from tui.screens.editor import judgement
from tui.screens.judged import Outcome, outcome_row
from tui.widgets.paint import Paint

BITE = "jaws.bite"
SEAT = "positions.seat.lift"


def _figures(stage: Stage) -> str:
    return str(stage.page.figures_bar.text)


async def _too_deep(stage: Stage) -> None:
    await stage.open(address=BITE)
    await stage.type("32.5")
    await stage.press("enter")


async def test_the_editor_says_at_once_what_an_edit_does_to_the_figures(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=BITE)
        assert _figures(stage).startswith(" figures as inked: 1 tight, 103 fit")
        await stage.type("32.5")
        await stage.press("enter")
        line = _figures(stage)
        assert "free height (blank) 23.20 -> 0.20 mm: does not fit" in line
        assert line.endswith("more: g")
        assert len(line) <= 80
        await stage.press("u")
        assert _figures(stage).startswith(" figures as inked: 1 tight")


async def test_opening_a_record_with_pencil_says_what_it_does(folder, clock):
    book = Book.open(folder, login="mosk", clock=clock)
    book.document(RECORD).pencil.set(BITE, "32.5")
    async with on_stage(folder, clock) as stage:
        await stage.open()
        assert "0.20 mm: does not fit" in _figures(stage)


async def test_a_verdict_is_never_cut_off(folder, clock):
    book = Book.open(folder, login="mosk", clock=clock)
    book.document(RECORD).pencil.set("fingers.blank.force_without_air", "100")
    async with on_stage(folder, clock) as stage:
        await stage.open()
        line = _figures(stage)
        assert ": does not fit" in line
        assert len(line) <= 80


@pytest.mark.parametrize("name", ["free height", "finger force without air, emergency stop"])
@pytest.mark.parametrize("before", ["2 do not fit", "1 does not fit", "100 fit"])
@pytest.mark.parametrize("more", [0, 3, 120])
@pytest.mark.parametrize("verdict", ["does not fit", "tight", "fits", "for information"])
def test_the_line_of_figures_fits_the_narrowest_terminal(name, before, more, verdict):
    change = FigureChange(name, "blank, out", "N", 1234.5, 23456.7, "fits", verdict, "hold", 240.0)
    outcome = Outcome([change] * (more + 1), [before, "1 tight"], pencil=True)
    line = "".join(text for text, _ in outcome_row(outcome, 80))
    assert len(line) <= 80
    assert "1234 -> 23457 N" in line or "1235 -> 23457 N" in line
    assert (verdict in line) == (verdict != "for information")
    assert ("still" in line) == ("not fit" in before and verdict != "does not fit")
    assert (f"+{more}" in line) == bool(more)


async def test_an_edit_that_changes_no_figure_says_so(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.kept_at")
        await stage.press("enter", "ctrl+u")
        await stage.type("rack 4")
        await stage.press("enter")
        assert "your pencil changes none; 1 tight, 103 fit" in _figures(stage)


async def test_figures_never_hold_a_key_back_and_overtaken_ones_are_not_worked_out(
    folder, clock, monkeypatch
):
    asked = []
    real = judgement.outcome_of
    monkeypatch.setattr(judgement, "outcome_of", lambda *a: (asked.append(1), real(*a))[1])
    async with on_stage(folder, clock) as stage:
        await stage.open(address="positions.seat.swing")
        before = len(asked)
        await stage.press("9", "enter", "down", "8", "enter", "down", "7", "enter")
        assert "In pencil: lift 7 mm" in stage.text()
        assert 1 <= len(asked) - before <= 3
    book = Book.open(folder, login="mosk", clock=clock)
    assert len(book.document(RECORD).pencil.draft().marks) == 3


async def test_figures_that_fail_are_told_and_stop_nothing(folder, clock, monkeypatch):
    def broken(*_: object, **__: object) -> None:
        raise ValueError("boom")

    monkeypatch.setattr("engine.book.figures.RecordFigures.all", broken)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=BITE)
        assert "figures cannot be worked out" in _figures(stage)
        await stage.type("9.4")
        await stage.press("enter")
        assert stage.line("9.4").startswith(">~ bite")
        await stage.press("i")
        assert "cannot be worked out" in stage.text()
        await stage.type("new jaws")
        await stage.press("enter")
    assert str(Book.open(folder, login="mosk").document(RECORD).values()[BITE]) == "9.4"


async def test_other_documents_have_no_line_of_figures(folder, clock):
    async with on_stage(folder, clock, login="itob") as stage:
        await stage.open("cells/east-lathe")
        assert not stage.page.figures_bar.display
        await stage.press("g")
        assert "Only records have figures" in stage.text()


async def test_the_ink_page_lists_what_no_longer_fits_above_the_reason(folder, clock):
    async with on_stage(folder, clock) as stage:
        await _too_deep(stage)
        await stage.press("i")
        assert "2 figures no longer fit" in stage.page.about.text
        text = stage.text()
        assert text.index("32.5") < text.index("what it does to the figures")
        assert text.index("0.20 mm  does not fit") < text.index("Reason:")
        assert "With it: 2 do not fit" in text
        assert "without a blank first" in text


async def test_figures_with_pencil_and_as_inked(folder, clock):
    async with on_stage(folder, clock) as stage:
        await _too_deep(stage)
        await stage.press("g")
        assert "with your pencil" in stage.page.title_bar.text
        assert "2 do not fit, 1 tight, 101 fit" in stage.page.about.text
        assert "friction tables mislead, wet parts slip" in stage.text()
        listed = stage.page.lines.text().split("\n")
        assert "what your pencil changes" in listed[0]
        assert "free height" in next(line for line in listed if "|" in line)
        await stage.press("p")
        assert "as inked" in stage.page.title_bar.text
        assert "1 tight, 103 fit" in stage.page.about.text


async def test_a_figure_says_how_from_what_and_where_its_limit_comes_from(folder, clock):
    async with on_stage(folder, clock) as stage:
        await _too_deep(stage)
        await stage.press("g", "enter")
        text = stage.text()
        assert "does not fit, 2.80 mm short" in text
        assert "height − jaw bite − finger bite" in text
        assert "common practice, no source" in text
        follows, limit = text.split("It follows from")[1].split("The limit, at least 3.00 mm")
        for address in ("jaws.bite", "blank.height", "fingers.blank.bite"):
            assert address in follows
        assert "32.5 mm" in follows
        assert "policy: free_height_least" in limit
        await stage.press("down", "enter")
        assert stage.page.name_of_record == RECORD
        assert stage.page.lines.key == "jaws.bite"


async def test_a_limit_of_the_policy_is_gone_to_in_the_policy(folder, clock):
    async with on_stage(folder, clock) as stage:
        await _too_deep(stage)
        await stage.press("g", "enter")
        await stage.press("end", "enter")
        assert stage.page.lines.key == "policy.free_height_least"


async def test_what_is_missing_is_named_and_gone_to(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blank.height")
        await stage.press("x", "g", "slash")
        await stage.type("free height")
        await stage.press("enter", "home")
        assert "cannot tell" in stage.text()
        await stage.press("enter")
        assert "These are missing" in stage.text()
        await stage.press("enter")
        assert stage.page.lines.key == "blank.height"


@pytest.mark.parametrize(
    ("letter", "words"),
    [
        ("t", ("7 across, 4 along", "far side", "numbers: order of fetching")),
        ("r", ("Every round at full speed", "parts an hour", "door opens")),
        ("b", ("BLANK, 41.2 high", "fingers hold 8.5", "41.2 - 9.5 - 8.5 = 23.2 free")),
        ("a", ("Taught minus expected, within", "collect - seat: z", "differs by")),
        ("f", ("began now and ran at full speed", "tray empty", "not included")),
    ],
)
async def test_pictures(folder, clock, letter, words):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("g", letter)
        for word in words:
            assert word in stage.text()
        assert "it is no safety device" in stage.text()
        assert "as inked" in stage.page.title_bar.text
        await stage.press("escape", "escape")
        assert stage.page.lines.key  # the editor again


async def test_a_round_can_be_the_first_the_last_and_slower(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("g", "r", "n")
        assert "The first round at full speed" in stage.text()
        await stage.press("n")
        assert "The last round" in stage.text()
        await stage.press("n", "s")
        assert "Every round at 12 % of full speed" in stage.text()
        await stage.press("t")
        assert "order of fetching" in stage.text()
        assert "stage" not in stage.page.keys_bar.text


async def test_pictures_follow_the_width_of_the_terminal(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("g", "t")
        await stage.pilot.resize_terminal(120, 40)
        await stage.settle()
        assert max(len(line) for line in stage.page.lines.text().split("\n")) > 80


async def test_without_utf8_pictures_and_formulas_are_ascii(folder, clock):
    async with on_stage(folder, clock, paint=Paint(False, "ascii")) as stage:
        await _too_deep(stage)
        await stage.press("g")
        assert stage.page.lines.text().isascii()
        assert "###" in stage.page.lines.text()
        await stage.press("enter")
        assert "height - jaw bite - finger bite" in stage.page.lines.text()
        for letter in "trba":
            await stage.press("escape", letter)
            assert stage.page.lines.text().isascii()


async def test_help_names_the_figures_that_follow_from_a_value(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=BITE)
        await stage.press("question_mark")
        assert "Figures that follow from it: free height, stick-out" in stage.text()


async def test_the_list_goes_to_figures_and_to_a_field(folder, clock):
    async with on_stage(folder, clock) as stage:
        stage.page.lines.choose(RECORD)
        await stage.press("g")
        assert f"Figures of {RECORD} as inked" in stage.page.title_bar.text
        await stage.press("enter", "enter")
        assert stage.page.name_of_record == RECORD
