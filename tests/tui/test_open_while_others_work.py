"""Pages left open while colleagues and other terminals change what they show.

`others` are books of their own on the same folder, as other processes have them. A
page is what it was opened on for ever: the record with that identity.
"""

import subprocess

import pytest

from engine.book import Book
from tests.demo_book import RECORD
from tests.tui.fake_book import on_stage

SEAT = "positions.seat.lift"
OTHER = "gland-nut-op10"
NEW = "seal-carrier-op20-b"


def _lead(folder, clock):
    return Book.open(folder, login="itob", clock=clock)


def _me(folder, clock):
    return Book.open(folder, login="mosk", clock=clock)


def _by_hand(folder, old="seconds = 1.3", new="seconds = 2.5", name=RECORD):
    path = folder / "records" / f"{name}.toml"
    path.write_text(path.read_text().replace(old, new))


def _git(folder, *words):
    who = ("-c", "user.name=Ifeoma Tobande", "-c", "user.email=ifeoma@there")
    subprocess.run(["git", "-C", str(folder), *who, *words], check=True, capture_output=True)


async def test_a_renamed_record_is_edited_and_inked_and_its_new_name_said_once(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.7")
        _lead(folder, clock).document(RECORD).rename(NEW, "clearer")
        await stage.type("9")
        await stage.press("enter")
        assert stage.line("303.79").startswith(">~ lift")
        await stage.look_at_others()
        assert stage.page.title_bar.text.strip().startswith(NEW)
        said = f"{RECORD} was renamed to {NEW} by Ifeoma Tobande."
        assert said in stage.page.about.text  # the other line still says what was typed
        assert "In pencil: lift 303.79 mm" in stage.page.status.text
        await stage.press("down")
        assert said in stage.page.status.text
        assert said not in stage.page.about.text
        await stage.press("up")
        await stage.press("i")
        assert "renamed" not in stage.page.status.text
        assert f"Ink {NEW}" in stage.page.title_bar.text
        await stage.type("seat taught")
        await stage.press("enter")
        if "What to know now" in stage.text():
            await stage.press("escape")
        assert "In ink: 1 value" in stage.text()
        assert "renamed" not in stage.text()
    book = _me(folder, clock)
    assert str(book.document(NEW).values()[SEAT]) == "303.79"
    assert book.document(NEW).pencil.draft() is None


async def test_a_new_name_is_said_after_what_was_decided(folder, clock):
    _me(folder, clock).document(RECORD).pencil.set(SEAT, "303.790")
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        lead = _lead(folder, clock)
        lead.document(RECORD).pencil.set(SEAT, "303.500")
        lead.document(RECORD).ink("measured again")
        lead.document(RECORD).rename(NEW, "clearer")
        await stage.press("i")
        assert "Contested" in stage.page.title_bar.text
        await stage.press("m", "enter")
        assert "Yours stays in pencil" in stage.page.status.text
        await stage.press("down")
        assert f"renamed to {NEW}" in stage.page.status.text
        stage.page.tell("")
        await stage.press("up", "i", "escape", "down")
        assert "renamed" not in stage.text()


async def test_another_record_under_the_old_name_is_never_written_to(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        lead = _lead(folder, clock)
        lead.document(RECORD).rename(NEW, "clearer")
        lead.document(OTHER).rename(RECORD, "takes the name")
        await stage.type("303.79")
        await stage.press("enter")
        await stage.press("n")
        assert f"Runs of {NEW}" in stage.page.title_bar.text
        await stage.press("escape", "t")
        assert f"of {NEW}" in stage.page.title_bar.text
        await stage.press("escape", "m")
        assert f"Marks of {NEW}" in stage.page.title_bar.text
    me = _me(folder, clock)
    assert me.document(RECORD).pencil.draft() is None
    draft = me.document(NEW).pencil.draft()
    assert draft is not None
    assert [mark.address for mark in draft.marks] == [SEAT]


@pytest.mark.parametrize("key", ["n", "m", "g", "t", "f"])
async def test_a_page_left_open_goes_along_with_a_rename(folder, clock, key):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press(key)
        _lead(folder, clock).document(RECORD).rename(NEW, "clearer")
        await stage.look_at_others()
        assert NEW in stage.page.title_bar.text
        await stage.press("escape")
        assert f"renamed to {NEW}" in stage.text()


async def test_a_comparison_left_open_shows_what_was_inked_meanwhile(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("c", "r")
        assert "lot.quantity" not in stage.text()
        lead = _lead(folder, clock)
        lead.document(RECORD).rename(NEW, "clearer")
        lead.document(NEW).pencil.set("lot.quantity", "120")
        lead.document(NEW).ink()
        await stage.look_at_others()
        assert "lot.quantity" in stage.text()
        assert f"Compare {NEW}" in stage.page.title_bar.text


async def test_a_figure_left_open_is_worked_out_anew(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("g", "enter")
        figure = stage.page._figure
        inputs = [e.input.address for e in stage.page._inputs if ":" not in e.input.address]
        lead = _lead(folder, clock)
        address = next(a for a in inputs if a.startswith(("positions.", "jaws.", "blank.")))
        value = lead.document(RECORD).values()[address]
        lead.document(RECORD).pencil.set(address, str(value + 1))
        lead.document(RECORD).ink("other")
        await stage.look_at_others()
        now = [e.words for e in stage.page._inputs if e.input.address == address]
        assert str(value + 1) in now[0]
        assert stage.page._figure.name == figure.name


async def test_a_record_retired_meanwhile_says_so_and_keeps_its_pencil(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter")
        _lead(folder, clock).document(RECORD).retire("the part is gone")
        await stage.look_at_others()
        assert "Ifeoma Tobande retired it. Your pencil is kept" in stage.text()
        assert "retired" in stage.page.about.text
        assert stage.line("303.79").startswith(">~")
    assert _me(folder, clock).document(RECORD).pencil.draft() is not None


async def test_a_record_taken_out_with_git_rm_says_so_and_keeps_pencil_and_typed_text(
    folder, clock
):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "down")
        await stage.type("12")
        _git(folder, "rm", "-q", f"records/{RECORD}.toml")
        _git(folder, "commit", "-qm", "not needed")
        await stage.look_at_others()
        text = " ".join(stage.text().split())
        assert "not in the book any more" in text
        assert "was taken out" in text
        await stage.press("escape")  # of the error, where it is a page of its own
        assert "not in the book any more; pencil is kept" in stage.page.about.text
        assert "303.79" in stage.text()
        await stage.press("i")
        assert "not in the book any more" in " ".join(stage.text().split())
        _git(folder, "revert", "--no-edit", "HEAD")
        for _ in range(3):
            await stage.press("escape")
        await stage.open(address=SEAT)
        assert stage.line("303.79").startswith(">~")


async def test_pencil_made_elsewhere_before_the_first_look_is_seen(folder, clock):
    """Between the opening of the list and the first look at others."""
    async with on_stage(folder, clock) as stage:
        _lead(folder, clock).document(RECORD).pencil.set(SEAT, "303.900")
        await stage.look_at_others()
        assert "Ifeoma" in stage.line(RECORD)
        await stage.open(address=SEAT)
        assert stage.line("303.900").startswith(">: lift")


async def test_what_a_question_looked_at_is_shown_all_the_same(folder, clock):
    """A key asks the book, which takes the newer head; the next look must still show it."""
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        lead = _lead(folder, clock)
        lead.document(RECORD).pencil.set(SEAT, "303.500")
        lead.document(RECORD).ink("measured again")
        await stage.press("l")  # looks back, and so at the head
        await stage.look_at_others()
        assert "303.500" in stage.text()


async def test_the_same_persons_other_terminal_is_seen_and_undone(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        _me(folder, clock).document(RECORD).pencil.set(SEAT, "303.900")
        await stage.look_at_others()
        assert stage.line("303.900").startswith(">~ lift")
        _me(folder, clock).document(RECORD).pencil.undo()
        await stage.look_at_others()
        assert "303.900" not in stage.text()


async def test_a_hand_edit_is_seen_when_asked(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blow_off.seconds")
        _by_hand(folder)
        assert "changed on disk" not in stage.text()
        await stage.press("o")
        assert "Found on disk" in stage.page.title_bar.text
        await stage.press("escape")
        assert "changed on disk: o" in stage.page.about.text


async def test_a_hand_edit_is_seen_with_the_key_that_looks_again(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blow_off.seconds")
        _by_hand(folder)
        await stage.press("ctrl+l")
        assert "changed on disk: o" in stage.page.about.text


async def test_a_hand_edit_is_asked_about_before_a_reason_is(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter")
        _by_hand(folder)
        await stage.press("i")
        assert "Found on disk" in stage.page.title_bar.text


async def test_a_hand_edit_while_the_reason_is_typed_is_asked_about_and_the_reason_kept(
    folder, clock
):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        await stage.type("seat taught")
        _by_hand(folder)
        await stage.press("enter")
        assert "Found on disk" in stage.page.title_bar.text
        await stage.press("b", "enter")
        await stage.press("i")
        assert "seat taught" in stage.page.detail.text


async def test_a_hand_edit_that_went_on_while_it_was_looked_at_is_looked_at_again(folder, clock):
    _by_hand(folder)
    async with on_stage(folder, clock) as stage:
        await stage.open(address="blow_off.seconds")
        await stage.press("o", "p")
        _by_hand(folder, "seconds = 2.5", "seconds = 3.5")
        await stage.press("enter")
        assert "nothing was done" in stage.text()
        await stage.press("o")
        assert "3.5" in stage.line("blow_off.seconds")
    assert "seconds = 3.5" in (folder / "records" / f"{RECORD}.toml").read_text()


async def test_the_text_is_put_back_where_the_record_is_now(folder, clock):
    held = _me(folder, clock).document(RECORD).on_disk
    _lead(folder, clock).document(RECORD).rename(NEW, "clearer")
    _lead(folder, clock).document(OTHER).rename(RECORD, "takes the name")
    _by_hand(folder, name=NEW)
    held.put_back()
    assert _me(folder, clock).document(NEW).on_disk.found() is None


async def test_a_contest_that_went_on_while_it_was_looked_at_is_looked_at_again(folder, clock):
    _me(folder, clock).document(RECORD).pencil.set(SEAT, "303.790")
    lead = _lead(folder, clock)
    lead.document(RECORD).pencil.set(SEAT, "303.500")
    lead.document(RECORD).ink("measured again")
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("d", "t")
        lead.document(RECORD).pencil.set(SEAT, "303.400")
        lead.document(RECORD).ink("and again")
        await stage.press("enter")
        assert "nothing was done" in stage.text()
        assert stage.line("303.790").startswith(">!")
        assert "303.400" in stage.line("303.790")


async def test_an_open_list_shows_new_renamed_and_retired_records_and_stays_on_its_own(
    folder, clock
):
    async with on_stage(folder, clock) as stage:
        stage.page.lines.choose(RECORD)
        await stage.settle()
        lead = _lead(folder, clock)
        lead.document(OTHER).retire("gone")
        lead.document("wear-ring-op20").copy("a-first-one", "a copy")
        lead.document(RECORD).rename("zz-last-one", "clearer")
        await stage.look_at_others()
        names = [item.key for item in stage.page.lines.items]
        assert "a-first-one" in names
        assert OTHER not in names
        assert RECORD not in names
        assert stage.page.lines.key == "zz-last-one"
        await stage.press("enter")
        assert stage.page.title_bar.text.strip().startswith("zz-last-one")


async def test_a_list_that_is_not_up_to_date_opens_the_record_that_was_meant(folder, clock):
    async with on_stage(folder, clock) as stage:
        stage.page.lines.choose(RECORD)
        await stage.settle()
        lead = _lead(folder, clock)
        lead.document(RECORD).rename(NEW, "clearer")
        lead.document(OTHER).rename(RECORD, "takes the name")
        await stage.press("enter")
        assert stage.page.title_bar.text.strip().startswith(NEW)


async def test_another_cell_and_its_axes_are_shown(folder, clock):
    lead = _lead(folder, clock)
    cells = [name.removeprefix("cells/") for name in lead.documents() if name.startswith("cells/")]
    async with on_stage(folder, clock) as stage:
        await stage.open(address="record.cell")
        cell = str(lead.document(RECORD).values()["record.cell"])
        other = next(name for name in cells if name != cell)
        lead.document(RECORD).pencil.set("record.cell", other)
        lead.document(RECORD).ink("moved to the other cell")
        await stage.look_at_others()
        assert other in stage.line("cell")
        assert stage.page.lines.key == "record.cell"


async def test_what_was_inked_is_said_until_the_next_key(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        page = stage.page
        page.tell("In ink: 1 value, 0123456.")
        page._waiting[0] = "opening it"
        page._still_waiting(0)
        page.tell_aside("! a warning")
        assert page.status.text == "In ink: 1 value, 0123456."
        await stage.press("down")
        page._still_waiting(0)
        assert page.status.text == "opening it ..."


async def test_only_what_was_listed_is_inked(folder, clock):
    """The other terminal of the same person goes on pencilling."""
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.type("303.79")
        await stage.press("enter", "i")
        await stage.type("seat taught")
        _me(folder, clock).document(RECORD).pencil.set("jaws.bite", "9.4")
        await stage.press("enter")
        assert "You pencilled more of it elsewhere." in stage.text()
        assert "jaws.bite" in stage.text()
        assert "seat taught" in stage.page.detail.text
        await stage.press("enter")
        assert "Ink" not in stage.page.title_bar.text
    assert str(_me(folder, clock).document(RECORD).values()["jaws.bite"]) == "9.4"


async def test_only_what_was_listed_goes_back(folder, clock):
    async with on_stage(folder, clock) as stage:
        await stage.open(address=SEAT)
        await stage.press("m", "end", "v", "v")
        await stage.type("as it was")
        lead = _lead(folder, clock)
        lead.document(RECORD).pencil.set(SEAT, "303.111")
        lead.document(RECORD).ink("taught")
        await stage.press("enter")
        assert "This changed meanwhile: nothing was done." in stage.text()
        assert "303.111" in stage.line(SEAT)
    assert str(_me(folder, clock).document(RECORD).values()[SEAT]) == "303.111"


async def test_what_was_inked_while_one_confirmed_is_not_confirmed(folder, clock):
    _me(folder, clock).document(RECORD).runs.start()
    async with on_stage(folder, clock) as stage:
        await stage.open()
        await stage.press("n", "c")
        lead = _lead(folder, clock)
        lead.document(RECORD).pencil.set(SEAT, "303.111")
        lead.document(RECORD).ink("taught")
        await stage.press("enter")
        assert "Ifeoma Tobande inked while this was open" in stage.text()
        await stage.press("escape", "c", "enter")
        assert "; read back (you, just now)" in stage.page.about.text
