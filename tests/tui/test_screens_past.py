"""Compare, trace and marks; the list; opening and leaving."""

from engine.book import Book
from schemas.errors import BookError
from tests.demo_book import RECORD
from tests.shop_floor import plain_git
from tests.tui.fake_book import Stage, on_stage, opener, share_the_box
from tui.app import WitnessmarkApp
from tui.screens.marks import Marks
from tui.screens.subject import Subject

SEAT = "positions.seat.lift"


async def test_compare_since_the_last_run_jumps_to_the_field(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("c", "r")
        assert "run 1 (its stop" in stage.text()
        assert "seat moved 0.200 mm: lift +0.200 mm" in stage.text()
        assert "+1 bar" in stage.line("jaws.clamp_pressure")
        await stage.press("end", "enter")
        assert "no field of its own" in stage.text()
        await stage.press("slash")
        await stage.type("seat.lift")
        await stage.press("enter", "enter")
        assert stage.page.lines.key == SEAT


async def test_compare_tells_what_the_change_did_to_the_figures(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("c", "r")
        assert "figures that changed" in stage.text()
        assert "9600 -> 10240 N" in stage.line("jaw force, most")


async def test_compare_since_a_day_tells_a_bad_one(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("c", "d")
        assert "since: 7 days" in stage.text()
        await stage.press("enter")
        assert "jaws.clamp_pressure" in stage.text()
        await stage.press("escape", "c", "d", "ctrl+u")
        await stage.type("banana")
        await stage.press("enter")
        assert "banana" in stage.text()


async def test_compare_pencil_and_what_never_happened(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open("wear-ring-op20")
        await stage.press("c", "r")
        assert "has no run" in stage.text()
        await stage.press("escape", "c", "p")
        assert "Nothing differs" in stage.text()


async def test_two_marks_are_compared_older_first(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("m", "space")
        assert "[held]" in stage.text()
        await stage.press("end", "enter")
        assert "ink-1  ->  ink-5" in stage.text()


async def test_trace_tells_who_when_and_why(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("t")
        text = stage.text()
        assert "303.440 -> 303.640 mm" in text
        assert "+0.200 mm" in text
        assert "seat was pressed too hard" in text
        assert "Mirela Oskanne (login mosk)" in text
        assert "ran in run 1" in text
        await stage.press("w")
        assert "Trace positions.seat of" in stage.text()
        assert "positions.seat.reach" in stage.text()
        await stage.press("n")
        assert f"Trace {SEAT} of" in stage.text()


async def test_the_list_shows_run_change_and_sign_off(folder, clock):
    async with on_stage(folder, clock) as stage:
        line = stage.line(RECORD)
        assert "2 wk ago" in line
        assert "2 changed" in line
        stage.page.lines.choose(RECORD)
        await stage.settle()
        assert "sign-off void" in stage.page.detail.text


async def test_a_record_that_cannot_be_read_is_listed_with_its_problem(folder, clock):
    (folder / "records" / "stray.toml").write_text("format = 1\n")
    async with on_stage(folder, clock) as stage:
        assert "unreadable" in stage.line("stray")
        await stage.open("stray")
        assert "never inked" in stage.text()
        await stage.press("escape", "escape", "home")
        assert RECORD in stage.text()


async def test_other_documents_open_in_the_same_editor(folder, clock):
    async with on_stage(folder, clock, login="itob") as stage:
        await stage.open("cells/east-lathe")
        assert "East lathe" in stage.text()
        await stage.press("escape", "escape")
        await stage.open("people")
        assert "Jun Arimoshi" in stage.text()


async def test_who_is_there_is_asked_where_the_login_does_not_tell(folder, clock):
    share_the_box(folder, clock)
    async with on_stage(folder, clock, login="shopfloor") as stage:
        assert "who are you?" in stage.text()
        await stage.press("2", "enter")
        assert "Mirela Oskanne" in stage.page.title_bar.text


async def test_a_login_that_is_nobodys_reads_only(folder, clock):
    async with on_stage(folder, clock, login="shopfloor") as stage:
        assert "shopfloor, read only" in stage.page.title_bar.text
        assert "Sallowmere Works" in stage.text()


async def test_nobody_reads_only(folder, clock):
    share_the_box(folder, clock)
    async with on_stage(folder, clock, login="shopfloor") as stage:
        await stage.press("end", "enter")
        assert "read only" in stage.page.title_bar.text


async def test_opening_right_at_a_record(folder, clock):
    async with on_stage(folder, clock, record=RECORD) as stage:
        assert stage.page.name_of_record == RECORD
        await stage.press("escape")
        assert "Sallowmere Works" in stage.text()


async def test_an_unknown_record_is_told(folder, clock):
    async with on_stage(folder, clock, record="nothing-like-it") as stage:
        assert "nothing-like-it" in stage.text()
        await stage.press("escape")
        assert "Sallowmere Works" in stage.text()


async def test_leaving_lists_my_pencil_once(folder, clock):
    book = Book.open(folder, login="mosk", clock=clock)
    book.document(RECORD).pencil.set(SEAT, "303.700")
    async with on_stage(folder, clock) as stage:
        await stage.press("q")
        assert "You have 1 value in pencil. It stays" in stage.text()
        assert SEAT in stage.text()
        await stage.press("escape")
        assert "Sallowmere Works" in stage.text()
        await stage.press("q", "q", "enter")
        assert stage.app.return_value == 0


async def test_leaving_without_pencil_leaves(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.press("escape", "ctrl+q", "ctrl+c")
        assert "q on the list" in stage.text()
        await stage.press("q")
        assert stage.app.return_value == 0


async def test_a_book_that_cannot_be_opened_says_why(clock):
    def refuse(_: str) -> Book:
        raise BookError("this is no book", where="/here", hint="`witnessmark init` starts one.")

    app = WitnessmarkApp(refuse, clock=clock)
    async with app.run_test(size=(80, 24)) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        text = stage.text()
        assert "this is no book" in text
        assert "/here" in text
        assert "witnessmark init" in text
        await stage.press("q")
        assert app.return_value == 2


async def test_an_unexpected_error_is_told_and_the_screen_lives(folder, clock, monkeypatch):
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("\x1b[2Jboom")

    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        monkeypatch.setattr("engine.book.comparing.DocumentPast.trace", broken)
        await stage.press("t")
        assert "RuntimeError" in stage.text()
        assert "\x1b" not in stage.text()
        await stage.press("escape")
        assert stage.line(SEAT.rpartition(".")[2])


def test_opener_is_what_the_app_expects(folder, clock):
    assert opener(folder, clock)("").identity.key == "mirela"


async def test_what_was_taken_out_is_listed_and_brought_back_by_keys(folder, clock):
    plain_git(folder, "rm", "-q", f"records/{RECORD}.toml")
    plain_git(folder, "commit", "-qm", "tidied up", when=clock())
    async with on_stage(folder, clock) as stage:
        assert "taken out: 1 (t)" in stage.text()
        await stage.press("t")
        line = stage.line(RECORD)
        assert "by By Hand" in line
        await stage.press("enter")
        assert f"Marks of {RECORD}" in stage.text()
        assert "run-1" in stage.text()
        await stage.press("escape", "v")
        assert f"Bring back {RECORD} as it stood last" in stage.text()
        assert "values come back:" in stage.text()
        await stage.type("the job is back")
        await stage.press("enter")
        assert f"{RECORD} is in the book again" in stage.text()
        await stage.press("enter")
        assert "Nothing was taken out" in stage.text()
        await stage.press("escape")
        assert "taken out:" not in stage.text()
        assert RECORD in stage.line(RECORD)


async def test_an_odd_value_is_marked_on_the_trace_and_in_a_comparison(folder, clock):
    file = folder / f"records/{RECORD}.toml"
    sound = file.read_text()
    assert "lift = 303.640" in sound
    for text in (sound.replace("lift = 303.640", "lift = nan"), "<<<<<<< here\n" + sound, sound):
        file.write_text(text)
        plain_git(folder, "commit", "-qam", "by hand", when=clock())
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("t")
        assert "303.640 -> nan (unusable) mm" in stage.text()
        assert "the whole text" in stage.text()
        assert "unreadable there" in stage.text()
        await stage.press("escape", "m")
        assert "unreadable there" in stage.text()
        await stage.press("down", "enter")
        assert "cannot be compared" in stage.text()


async def test_what_cannot_be_read_at_the_head_is_restored_by_keys(folder, clock):
    file = folder / f"records/{RECORD}.toml"
    file.write_text("<<<<<<< here\n" + file.read_text())
    plain_git(folder, "commit", "-qam", "by hand", when=clock())
    async with on_stage(folder, clock) as stage:
        stage.app.push_screen(Marks(Subject(RECORD)))
        await stage.settle()
        await stage.press("down", "v", "w")
        assert "unreadable there" in stage.text()
        await stage.type("mended")
        await stage.press("enter")
        assert "Restored" in stage.text()
