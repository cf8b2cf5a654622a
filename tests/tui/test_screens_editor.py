"""The editor: both values, typing, undo, and what is never asked."""

from pathlib import Path

import pytest

from engine.book import Book, pencilling
from engine.repo.journal import Journal
from schemas.errors import BookError
from tests.demo_book import RECORD
from tests.tui.fake_book import FINDINGS, on_stage

SEAT = "positions.seat.lift"


def _pencil(folder: Path, login: str = "mosk") -> dict[str, str]:
    book = Book.open(folder, login=login)
    draft = book.document(RECORD).pencil.draft()
    book.close()
    return {m.address: str(m.value) for m in draft.marks} if draft else {}


async def test_a_value_is_typed_and_both_values_stand_side_by_side(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter")
        line = stage.line("303.79")
        assert line.startswith(">~ lift")
        assert "303.640" in line
        assert line.rstrip().endswith("mm     +0.150 mm")
        assert "In pencil: lift 303.79 mm" in stage.text()
    assert _pencil(folder) == {SEAT: "303.79"}


async def test_a_refusal_stands_under_the_value_and_the_typed_text_stays(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303,79")
        await stage.press("enter")
        assert "has a comma" in stage.text()
        assert "303,79" in stage.line("303.640")
        await stage.press("backspace", "backspace", "backspace", "full_stop", "8", "enter")
        assert "+0.160 mm" in stage.line("303.8")
    assert _pencil(folder) == {SEAT: "303.8"}


async def test_esc_while_typing_leaves_the_value(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("9")
        await stage.press("down", "up", "escape")
        assert "303.640" in stage.line(">  lift")
    assert _pencil(folder) == {}


async def test_keys_typed_while_the_book_works_are_played_in_order(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="positions.seat.swing")
        for key in ("9", "enter", "down", "8", "enter", "down", "7", "enter"):
            await stage.pilot.press(key)
        await stage.settle()
    assert _pencil(folder) == {
        "positions.seat.swing": "9",
        "positions.seat.reach": "8",
        "positions.seat.lift": "7",
    }


async def test_going_back_to_the_inked_value_removes_the_mark(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("1")
        await stage.press("enter")
        await stage.type("303.640")
        await stage.press("enter")
        assert "nothing in pencil here" in stage.text()
        assert "~" not in stage.line("303.640")


async def test_a_choice_is_stepped_through(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.release")
        await stage.press("enter")
        assert "One of: jaws_close_then_fingers_open, fingers_open" in stage.text()
        await stage.press("down", "enter")
    assert _pencil(folder) == {"jaws.release": "fingers_open_then_jaws_close"}


async def test_undo_names_what_it_undid_and_redo_does_it_again(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("1")
        await stage.press("enter", "u")
        assert f"Undone: setting {SEAT} to 1" in stage.text()
        assert "~" not in stage.line("303.640")
        await stage.press("r")
        assert "Done again" in stage.text()
        assert stage.line("303.640").startswith(">~")
        await stage.press("u", "u")
        assert "nothing to undo" in stage.text()


async def test_rubbing_out_asks_and_can_be_taken_back(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("1")
        await stage.press("enter", "e")
        assert "Rub out pencil?" in stage.text()
        await stage.press("escape")
        assert _pencil(folder) == {SEAT: "1"}
        await stage.press("e", "v", "enter")
        assert _pencil(folder) == {}
        assert "b brings it back" in stage.text()
        await stage.press("b")
        assert _pencil(folder) == {SEAT: "1"}


async def test_taking_a_value_out_is_pencil_too(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blow_off.pressure")
        await stage.press("x")
        assert "no value" in stage.line("pressure")
        assert "taken out" in stage.line("pressure")
    assert _pencil(folder) == {"blow_off.pressure": "None"}


async def test_leaving_a_record_asks_nothing_and_the_list_shows_the_pencil(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("1")
        await stage.press("enter")
        clock.go(minutes=7)
        await stage.press("escape")
        assert "7 min you" in stage.line(RECORD)


async def test_others_pencil_is_seen_before_one_edits(folder, clock):
    lead = Book.open(folder, login="itob", clock=clock)
    lead.document(RECORD).pencil.set(SEAT, "303.900")
    clock.go(hours=2)
    async with on_stage(folder, clock) as stage:
        assert "2 h Ifeoma" in stage.line(RECORD)
        await stage.open(address=SEAT)
        assert stage.line("303.900").startswith(">: lift")
        assert ": Ifeoma Tobande's pencil, 2 h ago" in stage.text()
        await stage.press("enter")
        assert ": Ifeoma Tobande has 303.900 mm in pencil" in stage.text()


async def test_what_others_do_appears_by_itself(folder, clock):
    lead = Book.open(folder, login="itob", clock=clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.look_at_others()
        lead.document(RECORD).pencil.set(SEAT, "303.900")
        await stage.look_at_others()
        assert stage.line("303.900").startswith(">: lift")


async def test_typing_goes_on_while_others_ink(folder, clock):
    lead = Book.open(folder, login="itob", clock=clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.look_at_others()
        await stage.type("303.7")
        lead.document(RECORD).pencil.set("lot.quantity", "120")
        lead.document(RECORD).ink()
        await stage.look_at_others()
        assert "303.7" in stage.line("303.640")
        await stage.type("9")
        await stage.press("enter")
    assert _pencil(folder) == {SEAT: "303.79"}


async def test_choices_stay_in_sight_while_others_ink(folder, clock):
    lead = Book.open(folder, login="itob", clock=clock)
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.release")
        await stage.look_at_others()
        await stage.press("enter")
        lead.document(RECORD).pencil.set("lot.quantity", "120")
        lead.document(RECORD).ink()
        await stage.look_at_others()
        assert "One of: jaws_close_then_fingers_open" in stage.text()


async def test_the_address_of_the_chosen_line_is_told_while_finding(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.bite")
        await stage.press("slash")
        await stage.type("seat lift")
        assert stage.page.lines.key == SEAT
        assert stage.page.detail.text.strip() == SEAT


async def test_sections_words_and_the_last_change(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.bite")
        await stage.press("tab")
        assert stage.page.lines.key == "blank.shape"
        await stage.press("shift+tab")
        assert stage.page.lines.key == "jaws.id"
        await stage.press("slash")
        await stage.type("seat lift")
        assert [i.key for i in stage.page.lines.items if not i.heading] == [SEAT]
        await stage.press("enter")
        assert "Esc shows all" in stage.text()
        await stage.press("escape")
        await stage.press("l")
        assert stage.page.lines.key == "jaws.clamp_pressure"


async def test_help_tells_meaning_and_unit_and_jumps(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.clamp_pressure")
        await stage.press("question_mark")
        text = stage.text()
        assert "set clamping pressure" in text
        assert "Unit: bar" in text
        await stage.type("coefficient part")
        assert "fingers.part.friction" in stage.text()
        await stage.press("enter")
        assert stage.page.lines.key == "fingers.part.friction"


async def test_a_value_without_a_line_is_added_by_its_address(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="tools.T09.what")
        await stage.press("a")
        await stage.type("T11.wat")
        await stage.press("enter")
        assert "No value can stand at" in stage.text()
        await stage.press("backspace", "backspace", "h", "a", "t", "enter")
        await stage.type("part-off 3")
        await stage.press("enter")
        assert "part-off 3" in stage.line("what  ") or "part-off 3" in stage.text()
    assert _pencil(folder) == {"tools.T11.what": "part-off 3"}


async def test_a_reader_changes_nothing(folder, clock):
    async with on_stage(folder, clock, login="jari") as stage:
        await stage.open(address=SEAT)
        assert "read only" in stage.text()
        for key in ("enter", "5", "x", "i", "a"):
            await stage.press(key)
            assert "Read only" in stage.text()


async def test_findings_jump_to_the_field(folder, clock):
    async with on_stage(folder, clock, findings=FINDINGS) as stage:
        assert "1 error" in stage.line(RECORD)
        await stage.press("f")
        assert "1 error, 1 warning" in stage.text()
        await stage.press("enter")
        assert stage.page.name_of_record == RECORD
        assert stage.page.lines.key == SEAT


async def test_hostile_text_is_painted_as_text(folder, clock):
    path = folder / "records" / f"{RECORD}.toml"
    lead = Book.open(folder, login="itob", clock=clock)
    lead.document(RECORD).pencil.set("jaws.kept_at", "[/x] [red]rack[/red] ]8;;")
    lead.document(RECORD).ink("[bold]why[/]")
    assert path.exists()
    async with on_stage(folder, clock) as stage:
        await stage.open(address="jaws.kept_at")
        assert "[/x] [red]rack" in stage.line("kept_at")
        await stage.press("t")
        assert "[/x] [red]rack[/red] ]8;;" in stage.text()


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (160, 48), (60, 16), (40, 12)])
async def test_every_size_shows_the_chosen_line(folder, clock, size):
    async with on_stage(folder, clock, size=size) as stage:
        await stage.open(address=SEAT)
        assert stage.line("lift").startswith(">") or "> " in stage.page.lines.text()
        await stage.press("pagedown", "end", "home", "pageup")


@pytest.mark.parametrize(
    ("keys", "said"),
    [(("1", "enter"), "Positions.seat.lift is in pencil"),
     (("x",), "Positions.seat.lift is in pencil"), (("u",), "Your pencil is changed as you asked")],
)  # fmt: skip
async def test_what_cannot_be_shown_once_it_is_in_pencil_is_no_refusal(
    folder, clock, monkeypatch, keys, said
):
    other = Book.open(folder, login="mosk")
    other.document(RECORD).pencil.set(SEAT, "303.79")
    other.close()
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        append = Journal.append

        def unread(*_, **__):
            raise BookError("git could not read")

        def then_unread(self, make):
            written = append(self, make)
            monkeypatch.setattr(pencilling, "_draft_of", unread)
            return written

        monkeypatch.setattr(Journal, "append", then_unread)
        await stage.press(*keys)
        shown = " ".join(stage.text().split())
        assert f"{said}, and kept; but" in shown
        assert shown.startswith("Done, but it cannot be shown")
        monkeypatch.undo()
        await stage.press("escape")
        assert stage.page.mode is None, "nobody is left typing what was taken"
        await stage.press("escape")
        await stage.open(address=SEAT)
    assert _pencil(folder) == ({} if "u" in keys else {SEAT: "1" if "1" in keys else "None"})
