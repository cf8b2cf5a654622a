"""An ink of some of my pencil takes what was named; what stays, and what was faster, is told."""

import pytest

from schemas.errors import BelongsTogether, Conflict, Refused
from tests.mini_book import BUSH, SEAT, picture, plain_git
from tests.shop_floor import edit, ink

REACH, SWING, BITE = "positions.seat.reach", "positions.seat.swing", "jaws.bite"
LOT, NOTES = "lot.quantity", "notes.text"


def pencil(book, name=SEAT):
    draft = book.document(name).pencil.draft()
    return {} if draft is None else {m.address: str(m.value) for m in draft.marks}


def put(book, **values):
    typed = {address.replace("__", "."): text for address, text in values.items()}
    book.document(SEAT).pencil.set_all(typed)


def changed(folder):
    diff = plain_git(folder, "show", "--format=", "-U0", "HEAD").splitlines()
    return [line for line in diff if line.startswith(("+", "-")) and line[1:3] not in ("++", "--")]


def test_older_pencil_stays_and_is_listed(at, folder):
    mira = at("mira")
    put(mira, lot__quantity="50", notes__text="turn it")
    put(mira, jaws__bite="8.0")
    done = mira.document(SEAT).ink("worn", [BITE])
    assert [c.address for c in done.changes] == [BITE]
    assert changed(folder) == ["-bite = 7.5", "+bite = 8.0"]
    assert [m.address for m in done.left.marks] == [LOT, NOTES]
    assert pencil(mira) == {LOT: "50", NOTES: "turn it"}
    done = mira.document(SEAT).ink("the rest")
    assert [c.address for c in done.changes] == [LOT, NOTES]
    assert done.left is None
    drafts = plain_git(folder, "log", "--format=%(trailers:key=Draft,valueonly)").split()
    assert len(set(drafts)) == len(drafts) == 2


def test_a_table_names_all_that_lies_in_it(at):
    mira = at("mira")
    put(mira, tools__T04__what="drill 8", tools__T04__stick_out="60", lot__quantity="50")
    done = mira.document(SEAT).ink("", ["tools.T04"])
    assert {c.address for c in done.changes} == {"tools.T04.what", "tools.T04.stick_out"}
    assert pencil(mira) == {LOT: "50"}


@pytest.mark.parametrize("older", [SWING, BITE, "fingers.blank.bite", "tray.pitch_across"])
def test_the_coupled_group_is_not_torn_in_silence(at, folder, older):
    mira = at("mira")
    mira.document(SEAT).pencil.set_all({older: "9", LOT: "50"})
    mira.document(SEAT).pencil.set(REACH, "612.500")
    before, head = pencil(mira), plain_git(folder, "rev-parse", "HEAD")
    with pytest.raises(BelongsTogether, match=f"{older} .* -> 9") as caught:
        mira.document(SEAT).ink("taught", [REACH])
    assert LOT not in str(caught.value)
    assert "--with-group" in caught.value.hint
    assert "--only-this" in caught.value.hint
    assert caught.value.exit_code == 3
    assert (pencil(mira), plain_git(folder, "rev-parse", "HEAD")) == (before, head)


def test_the_group_goes_along_where_the_person_says_so(at):
    mira = at("mira")
    put(mira, jaws__bite="9", lot__quantity="50")
    put(mira, positions__seat__reach="612.500")
    done = mira.document(SEAT).ink("taught", [REACH], "with")
    assert {c.address for c in done.changes} == {REACH, BITE}
    assert pencil(mira) == {LOT: "50"}


def test_or_it_stays_and_can_be_inked_later(at):
    mira = at("mira")
    put(mira, jaws__bite="9")
    put(mira, positions__seat__reach="612.500")
    done = mira.document(SEAT).ink("taught", [REACH], "without")
    assert [c.address for c in done.changes] == [REACH]
    assert [m.address for m in done.left.marks] == [BITE]
    assert done.left.marks[0].contested is None  # by nobody else
    mira.document(SEAT).ink("worn", [BITE])
    assert pencil(mira) == {}


def test_what_is_not_coupled_asks_nothing(at):
    mira = at("mira")
    put(mira, jaws__bite="9", positions__seat__reach="612.500")
    put(mira, lot__quantity="50")
    mira.document(SEAT).ink("", [LOT])
    assert set(pencil(mira)) == {BITE, REACH}


def test_the_pencil_of_others_is_no_older_pencil_of_mine(at):
    mira, ole = at("mira"), at("ole")
    ole.document(SEAT).pencil.set(BITE, "9")
    put(mira, positions__seat__reach="612.500")
    mira.document(SEAT).ink("taught", [REACH])
    assert pencil(ole) == {BITE: "9"}


def test_only_what_is_inked_can_be_contested(at):
    mira, ole = at("mira"), at("ole")
    put(mira, lot__quantity="50", notes__text="turn it")
    ink(ole, SEAT, lot__quantity="60")
    mira.document(SEAT).ink("", [NOTES])
    with pytest.raises(Conflict):
        mira.document(SEAT).ink("", [LOT])


def test_the_reason_is_asked_for_what_is_inked_only(at):
    mira = at("mira")
    put(mira, positions__seat__reach="612.500", lot__quantity="50")
    mira.document(SEAT).ink("", [LOT])
    with pytest.raises(Refused, match="needs a reason"):
        mira.document(SEAT).ink("", [REACH])


def test_what_does_not_stand_without_the_rest_is_refused_and_says_so(at):
    mira = at("mira")
    mira.document(SEAT).pencil.set_all({"photos.step.file": "photos/step.jpg"})
    mira.document(SEAT).pencil.set_all({"photos.step.shows": "jaws"})
    with pytest.raises(Refused, match="without older pencil of yours") as caught:
        mira.document(SEAT).ink("", ["photos.step.shows"])
    assert "inks all of your pencil" in caught.value.hint
    mira.document(SEAT).ink("", ["photos.step.file", "photos.step.shows"])


def test_a_program_that_was_not_named_stays_where_it_is_and_is_told(at, folder):
    mira = at("mira")
    (folder / "programs/seat.nc").write_bytes(b"O0\nG0 X7\nM30\n")
    (folder / "photos/seat-jaws.jpg").write_bytes(picture(9))
    put(mira, lot__quantity="50")
    done = mira.document(SEAT).ink("", [LOT])
    assert plain_git(folder, "show", "--name-only", "--format=").split() == [f"records/{SEAT}.toml"]
    assert [m for m in done.messages if "programs/seat.nc is not as inked" in m]
    mira.document(SEAT).pencil.set("program.sha256", "now")
    mira.document(SEAT).ink("proved", ["program"], "with")
    assert plain_git(folder, "show", "HEAD:programs/seat.nc") == "O0\nG0 X7\nM30\n"
    mira.document(SEAT).pencil.set("photos.jaws.file", "photos/seat-jaws.jpg")
    mira.document(SEAT).ink("new", ["photos.jaws.file"])
    assert plain_git(folder, "status", "--porcelain") == ""
    assert pencil(mira) == {}


def test_a_value_under_its_earlier_name_is_named_as_well(at):
    mira = at("mira")
    put(mira, jaws__kept_at="rack 5", lot__quantity="50")
    mira.document(SEAT).ink("", ["jaws.place"])
    assert pencil(mira) == {LOT: "50"}


def test_cells_and_people_have_no_group(at):
    ole = at("ole")
    ole.document("cells/lathe").pencil.set_all({"axes.lift.most": "900", "axes.reach.most": "950"})
    done = ole.document("cells/lathe").ink("", ["axes.lift.most"])
    assert [c.address for c in done.changes] == ["axes.lift.most"]


def test_a_hand_edit_still_stops_it(at, folder):
    mira = at("mira")
    edit(folder, f"records/{SEAT}.toml", "boring bar 16", "boring bar 20")
    put(mira, lot__quantity="50", notes__text="x")
    with pytest.raises(Refused, match="outside the program"):
        mira.document(SEAT).ink("", [LOT])


# a second terminal of the same person


def test_a_second_terminal_is_told_what_became_of_its_reason(at):
    one, two = at("mira"), at("mira")
    put(one, positions__seat__reach="612.500")
    one.document(SEAT).ink("rubbed on the way in")
    for only in ((), (REACH,)):
        with pytest.raises(Refused, match="there is nothing to ink") as caught:
            two.document(SEAT).ink("taught anew", only)
        said = str(caught.value)
        assert "by you with the reason 'rubbed on the way in'" in said
        assert "your reason 'taught anew' was not used" in said
        assert REACH in said
        assert "notes.text" in caught.value.hint


def test_the_same_where_something_is_left_to_ink(at):
    """Both terminals list two values; the first inks one of them before the second inks both."""
    one, two = at("mira"), at("mira")
    put(one, positions__seat__reach="612.500", lot__quantity="50")
    one.document(SEAT).ink("rubbed", [REACH])
    done = two.document(SEAT).ink("taught anew", [REACH, LOT])
    assert [c.address for c in done.changes] == [LOT]
    (said,) = [m for m in done.messages if "was not used" in m]
    assert REACH in said
    assert "'rubbed'" in said


def test_without_a_reason_there_is_none_to_be_lost(at):
    one, two = at("mira"), at("mira")
    put(one, lot__quantity="50")
    one.document(SEAT).ink()
    with pytest.raises(Refused, match="without a reason") as caught:
        two.document(SEAT).ink()
    assert "not used" not in str(caught.value)


def test_somebody_else_who_inked_the_same_is_named(at):
    mira, ole = at("mira"), at("ole")
    put(mira, lot__quantity="50")
    ink(ole, SEAT, "counted", lot__quantity="50")
    with pytest.raises(Refused, match="by Ole Brandt with the reason 'counted'"):
        mira.document(SEAT).ink("ordered", [LOT])


def test_pencil_that_was_rubbed_out_at_the_other_terminal_is_told(at):
    one, two = at("mira"), at("mira")
    put(one, lot__quantity="50")
    one.document(SEAT).pencil.rub_out()
    with pytest.raises(Refused, match="was rubbed out") as caught:
        two.document(SEAT).ink("x")
    assert "--bring-back" in str(caught.value)


def test_where_there_never_was_pencil_nothing_is_made_up(at):
    with pytest.raises(Refused) as caught:
        at("mira").document(BUSH).ink("x")
    assert str(caught.value).endswith("there is nothing to ink")


def test_a_value_that_is_nowhere_is_no_success(at):
    with pytest.raises(Refused, match="nothing in ink or in pencil"):
        at("mira").document(BUSH).ink("x", ["tools.T09.what"])
