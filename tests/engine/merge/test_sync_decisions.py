"""What a person decided takes part in a merge: there and back, and taking out against changing.

The cases are those of docs/sync.md; no published source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from schemas.errors import Refused
from tests.engine.merge.test_sync_boxes import LIFT, REACH, clean, ink, meet, put
from tests.mini_book import BUSH, SEAT, plain_git, session_of
from tests.shop_floor import edit

OLD_LIFT, QUANTITY = Decimal("148.900"), "lot.quantity"


def restored(book):
    put(book, SEAT, LIFT, "150.1")
    book.document(SEAT).restore("ink-1", LIFT, "150.1 hit the jaws")


def set_back(book):
    put(book, SEAT, LIFT, "150.1")
    ink(book, SEAT, "150.1 hit the jaws", **{LIFT: "148.900"})


def in_three(book):
    for text in ("150.1", "151", "148.9"):
        ink(book, SEAT, "tried", **{LIFT: text})


def before_a_rename(book):
    set_back(book)
    book.document(SEAT).rename("seat-new")


def over_a_rename(book):
    put(book, SEAT, LIFT, "150.1")
    book.document(SEAT).rename("seat-new")
    book.document("seat-new").restore("ink-1", LIFT, "150.1 hit the jaws")


def whole_record(book):
    put(book, SEAT, LIFT, "150.1")
    book.document(SEAT).restore("ink-1", reason="150.1 hit the jaws")


def file_gone_and_back(book):
    plain_git(book.folder, "rm", "-q", f"records/{SEAT}.toml")
    plain_git(book.folder, "commit", "-q", "-m", "away with it")
    plain_git(book.folder, "checkout", "-q", "HEAD~1", "--", f"records/{SEAT}.toml")
    plain_git(book.folder, "commit", "-q", "-m", "and back")
    book.refresh()


def by_hand(book):
    for old, new in (("lift = 148.900", "lift = 150.1"), ("lift = 150.1", "lift = 148.900")):
        edit(book.folder, f"records/{SEAT}.toml", old, new)
        plain_git(book.folder, "commit", "-q", "-a", "-m", new)
    book.refresh()


BACK = [restored, set_back, in_three, before_a_rename, over_a_rename, whole_record,
        file_gone_and_back, by_hand]  # fmt: skip


def name_of(book):
    return session_of(book).with_key("wm-seat10").name


def marks_of(*books):
    return {
        (draft.who.key, mark.address): mark
        for book in books
        for draft in book.drafts()
        for mark in draft.marks
    }


@pytest.mark.parametrize("back", BACK)
def test_there_and_back_here_against_a_change_there(two, back):
    mira, ole = two
    ink(ole, SEAT, "taught anew", **{LIFT: "149.4"})
    back(mira)
    done, _ = meet(ole, mira)
    (item,) = [i for i in done.contested if i.address == LIFT]
    assert (item.shared, item.shared_by.key, item.aside) == (Decimal("149.4"), "ole", OLD_LIFT)
    assert item.shared_reason == "taught anew"
    assert mira.document(name_of(mira)).values()[LIFT] == Decimal("149.4")
    mark = marks_of(mira)["mira", LIFT]
    assert (mark.value, mark.contested.key) == (OLD_LIFT, "ole")
    if back is restored:
        assert (item.aside_by.key, item.aside_reason) == ("mira", "150.1 hit the jaws")
        assert "150.1 hit the jaws" in mark.note


@pytest.mark.parametrize("back", BACK)
def test_there_and_back_there_against_a_change_here(two, back):
    mira, ole = two
    back(ole)
    put(mira, SEAT, LIFT, "149.4")
    done, _ = meet(ole, mira)
    (item,) = [i for i in done.contested if i.address == LIFT]
    assert (item.shared, item.aside, item.aside_by.key) == (OLD_LIFT, Decimal("149.4"), "mira")
    assert ole.document(name_of(ole)).values()[LIFT] == OLD_LIFT
    assert marks_of(mira)["mira", LIFT].value == Decimal("149.4")


@pytest.mark.parametrize("first", [0, 1])
def test_there_and_back_of_one_value_counts_for_all_that_fits_together(two, first):
    one, other = (two[first], two[1 - first])
    set_back(one)
    put(other, SEAT, "jaws.bite", "8.0")
    mira, ole = two
    done, _ = meet(ole, mira)
    (item,) = done.contested
    assert item.address == "jaws.bite"
    wanted = ("7.5", "8.0") if other is mira else ("8.0", "7.5")
    assert tuple(str(v) for v in (item.shared, item.aside)) == wanted
    assert {item.shared_by.key, item.aside_by.key} == {"mira", "ole"}


def test_both_there_and_back_or_both_the_same_is_no_contest(two):
    mira, ole = two
    set_back(mira)
    in_three(ole)
    put(ole, SEAT, QUANTITY, "7")
    for text in ("9", "7"):
        put(mira, SEAT, QUANTITY, text)
    done, _ = meet(ole, mira)
    assert (done.contested, marks_of(*two)) == ((), {})
    assert [m for m in done.messages if SEAT in m] == []


def test_there_and_back_of_what_the_other_left_alone_is_no_contest(two):
    mira, ole = two
    set_back(mira)
    put(mira, SEAT, QUANTITY, "9")
    put(ole, SEAT, "notes.text", "theirs")
    done, _ = meet(ole, mira)
    assert (done.contested, marks_of(*two)) == ((), {})
    assert mira.document(SEAT).values()["notes.text"] == "theirs"


def test_there_and_back_of_a_policy_and_of_a_person(two, shop):
    lead, other = shop.box("three", "ole"), shop.box("two", "ole")
    for text in ("40", "30"):
        put(lead, "book", "policy.stale_pencil_days", text)
    lead.sync()
    del two
    put(other, "book", "policy.stale_pencil_days", "30")
    assert other.sync().contested == ()


def test_a_name_that_was_changed_and_given_back_is_a_decision(two):
    mira, ole = two
    mira.document(SEAT).rename("seat-a")
    mira.document("seat-a").rename(SEAT)
    ole.document(SEAT).rename("seat-b")
    put(mira, BUSH, QUANTITY, "3")
    done, _ = meet(ole, mira)
    assert any("renamed on both sides" in said for said in done.messages)
    assert "seat-b" in mira.documents()


def test_a_program_that_was_changed_and_put_back_is_kept_beside_the_other(two):
    mira, ole = two
    file = mira.folder / "programs/seat.nc"
    was = file.read_bytes()
    for text in (b"O0\nG0 X5\nM30\n", was):
        file.write_bytes(text)
        mira.document(SEAT).ink("tried")
    (ole.folder / "programs/seat.nc").write_bytes(b"O0\nG0 X9\nM30\n")
    ole.document(SEAT).ink("better")
    done, _ = meet(ole, mira)
    (aside,) = (ole.folder / "programs").glob("seat-aside-*.nc")
    assert aside.read_bytes() == was
    assert any("changed on both sides" in said for said in done.messages)
    assert marks_of(mira)["mira", "program.file"].value == f"programs/{aside.name}"


# taking out against changing


OUT = [
    (QUANTITY, QUANTITY, "99"),
    ("tools.T04", "tools.T04.what", "boring bar 20"),
    ("photos.jaws", "photos.jaws.note", "look left"),
    ("positions.seat", LIFT, "149.4"),
    (LIFT, LIFT, "149.4"),
    ("jaws.bite", "jaws.bite", "8.0"),
]


@pytest.mark.parametrize("remover", ["mira", "ole"])
@pytest.mark.parametrize(("out", "address", "text"), OUT)
def test_the_change_stays_and_the_removal_is_pencil_of_whoever_took_it_out(
    two, out, address, text, remover
):
    mira, ole = two
    gone, kept = two if remover == "mira" else (ole, mira)
    before = {a for a in mira.document(SEAT).values() if a == out or a.startswith(f"{out}.")}
    gone.document(SEAT).pencil.clear(out)
    taken = gone.document(SEAT).ink("not any more").commit
    changed = ink(kept, SEAT, "measured", **{address: text})
    done, back = meet(ole, mira)
    for book in two:
        assert before <= set(book.document(SEAT).values())
        assert str(book.document(SEAT).values()[address]) == text
    marks = {key: mark.value for key, mark in marks_of(mira).items()}
    assert marks == {(remover, a): None for a in {*before, address}}
    assert marks_of(mira)[remover, address].contested.key == kept.identity.key
    for said in (done.messages, back.messages):
        (words,) = [m for m in said if "was taken out on one side" in m]
        for wanted in (taken[:10], changed[:10], "not any more", "measured", out):
            assert wanted in words


def test_what_else_the_remover_changed_in_the_group_goes_to_their_pencil_too(two):
    mira, ole = two
    ole.document(SEAT).pencil.clear("positions.seat")
    ole.document(SEAT).pencil.set("jaws.bite", "8.0")
    ole.document(SEAT).ink("other jaws")
    put(mira, SEAT, LIFT, "149.4")
    meet(ole, mira)
    values = ole.document(SEAT).values()
    assert (values[LIFT], values["jaws.bite"]) == (Decimal("149.4"), Decimal("7.5"))
    assert marks_of(mira)["ole", "jaws.bite"].value == Decimal("8.0")
    assert marks_of(mira)["ole", REACH].value is None


def test_where_each_took_out_what_the_other_changed_the_shared_side_stays(two):
    mira, ole = two
    for book, out, lift in ((ole, "jaws.bite", "149.4"), (mira, LIFT, "")):
        book.document(SEAT).pencil.clear(out)
        book.document(SEAT).pencil.set(LIFT if lift else "jaws.bite", lift or "8.0")
        book.document(SEAT).ink("as found")
    done, _ = meet(ole, mira)
    assert "jaws.bite" not in ole.document(SEAT).values()
    assert {(c.address, c.aside) for c in done.contested} == {
        (LIFT, None), ("jaws.bite", Decimal("8.0")),
    }  # fmt: skip


def test_taken_out_and_brought_back_here_against_taken_out_there(two):
    mira, ole = two
    mira.document(SEAT).pencil.clear("tools.T04")
    mira.document(SEAT).ink("gone")
    mira.document(SEAT).restore("ink-1", "tools.T04", "no, it is needed")
    ole.document(SEAT).pencil.clear("tools.T04")
    ole.document(SEAT).ink("not any more")
    done, _ = meet(ole, mira)
    assert ole.document(SEAT).values()["tools.T04.what"] == "boring bar 16"
    assert any("no, it is needed" in m for m in done.messages)


def test_a_part_that_both_took_out_is_gone_with_the_rest(two):
    mira, ole = two
    mira.document(SEAT).pencil.clear("tools.T04.stick_out")
    mira.document(SEAT).ink("not measured")
    ole.document(SEAT).pencil.clear("tools.T04")
    ole.document(SEAT).ink("not any more")
    done, _ = meet(ole, mira)
    assert not [a for a in ole.document(SEAT).values() if a.startswith("tools.T04")]
    assert not done.contested


def test_ink_of_the_removal_takes_it_out_everywhere(two):
    mira, ole = two
    mira.document(SEAT).pencil.clear("tools.T04")
    mira.document(SEAT).ink("not any more")
    put(ole, SEAT, "tools.T04.what", "boring bar 20")
    meet(ole, mira)
    mira.document(SEAT).pencil.keep()
    mira.document(SEAT).ink("really not")
    meet(mira, ole)
    assert not [a for a in ole.document(SEAT).values() if a.startswith("tools.T04")]
    assert marks_of(*two) == {}


def test_a_record_deleted_and_renamed_is_a_change_that_stays(two):
    mira, ole = two
    mira.document(SEAT).rename("seat-new")
    plain_git(ole.folder, "rm", "-q", f"records/{SEAT}.toml")
    plain_git(ole.folder, "commit", "-q", "-m", "away with it")
    ole.refresh()
    done, back = meet(ole, mira)
    assert "seat-new" in ole.documents()
    for said in (done.messages, back.messages):
        assert any("seat-new was deleted" in m and "the change stays" in m for m in said)


# merges that cross, and both at once


@pytest.mark.parametrize("case", ["there and back", "taken out", "tool", "group"])
def test_both_boxes_merge_at_once_and_end_equal(two, shop, case):
    mira, ole = two
    second = str(shop.folder / "second.git")
    plain_git(shop.folder, "clone", "-q", "--bare", str(shop.hub), second)
    if case == "there and back":
        set_back(mira)
    elif case == "group":
        put(mira, SEAT, "jaws.bite", "8.0")
    else:
        mira.document(SEAT).pencil.clear("tools.T04" if case == "tool" else LIFT)
        mira.document(SEAT).ink("not any more")
    changed = "tools.T04.what" if case == "tool" else LIFT
    put(ole, SEAT, changed, "149.4")
    first = str(shop.hub)
    mira.sync(first)
    ole.sync(second)
    assert mira.sync(second).merged
    assert ole.sync(first).merged
    ole.sync(first)
    mira.sync(first)
    mira.sync(second)
    ole.sync(second)
    ole.sync(first)
    mira.sync(first)
    assert mira.head == ole.head
    clean(mira)
    clean(ole)
    values = mira.document(SEAT).values()
    if case in ("taken out", "tool"):
        assert str(values[changed]) == "149.4"
        assert "mira" in {who for who, _ in marks_of(mira, ole)}
    whole = {str(values.get("jaws.bite")), str(values.get(LIFT))}
    waits = {str(mark.value) for mark in marks_of(mira, ole).values()}
    if case == "there and back":
        assert {"148.900", "149.4"} <= {str(values[LIFT])} | waits
    if case == "group":
        assert whole in ({"8.0", "148.900"}, {"7.5", "149.4"})
        assert {"8.0", "149.4"} <= whole | waits


def test_put_back_to_what_one_base_holds_is_a_decision_where_merges_crossed(two, shop):
    mira, ole = two
    plain_git(shop.folder, "clone", "-q", "--bare", str(shop.hub), "second.git")
    first, second = str(shop.hub), str(shop.folder / "second.git")
    put(mira, SEAT, QUANTITY, "11")
    put(ole, SEAT, "notes.text", "theirs")
    mira.sync(first)
    ole.sync(second)
    mira.sync(second)
    ole.sync(first)
    put(ole, SEAT, QUANTITY, "110")  # what the base of ole's side holds
    put(mira, SEAT, "jaws.kept_at", "rack 5")
    ole.sync(first)
    done = mira.sync(first)
    assert (
        len(session_of(mira).git.merge_bases(*session_of(mira).past.saved(done.merged).parents))
        == 2
    )
    assert mira.document(SEAT).values()[QUANTITY] == 110
    assert not done.contested


def test_a_run_that_was_stopped_on_both_sides_is_told(two):
    mira, ole = two
    mira.document(SEAT).runs.start()
    meet(mira, ole)
    ole.document(SEAT).runs.stop(7, 0)
    mira.document(SEAT).runs.stop(5, 1)
    done, back = meet(ole, mira)
    for said in (done.messages, back.messages):
        assert any("end was written on both sides" in m for m in said)
    assert [(run.good, run.scrap) for run in ole.document(SEAT).runs.all()] == [(7, 0)]


# known on every box until somebody decides


def open_removals(book):
    return [f for f in book.check() if f.rule == "taken-out-and-changed"]


def taken_out_and_changed(gone, kept, out="tools.T04", address="tools.T04.what"):
    gone.document(SEAT).pencil.clear(out)
    taken = gone.document(SEAT).ink("not any more").commit
    ink(kept, SEAT, "measured", **{address: "12"})
    return taken


@pytest.mark.parametrize("decides", ["acknowledges", "inks", "takes out"])
@pytest.mark.parametrize("remover", [0, 1])
def test_a_removal_that_did_not_hold_is_a_finding_on_each_box_until_somebody_decides(
    two, remover, decides
):
    mira, ole = two
    taken = taken_out_and_changed(two[remover], two[1 - remover])
    meet(ole, mira)
    for book in two:
        (found,) = open_removals(book)
        assert (found.record, found.address) == (SEAT, "tools.T04")
        assert taken[:10] in found.message
    if decides == "acknowledges":
        with pytest.raises(Refused, match="needs a reason"):
            ole.acknowledge(taken[:10], "")
        ole.acknowledge(taken[:10], "it is needed")
    elif decides == "inks":
        put(ole, SEAT, "tools.T04.what", "13")
    else:
        ole.document(SEAT).pencil.clear("tools.T04")
        ole.document(SEAT).ink("really")
    meet(ole, mira)
    assert (open_removals(mira), open_removals(ole)) == ([], [])


def test_a_record_that_was_deleted_and_changed_is_a_finding_of_its_own(two):
    mira, ole = two
    plain_git(ole.folder, "rm", "-q", f"records/{SEAT}.toml")
    plain_git(ole.folder, "commit", "-q", "-m", "away with it")
    ole.refresh()
    put(mira, SEAT, QUANTITY, "9")
    meet(ole, mira)
    for book in two:
        (found,) = open_removals(book)
        assert (found.record, found.address) == (SEAT, "")
        assert "retire" in found.hint
    mira.acknowledge("", "it still runs")
    assert open_removals(mira) == []


def test_taking_out_and_writing_anew_on_one_box_is_no_finding(two):
    mira, ole = two
    mira.document(SEAT).pencil.clear("tools.T04")
    mira.document(SEAT).ink("gone")
    mira.document(SEAT).restore("ink-1", "tools.T04", "needed")
    put(ole, SEAT, "notes.text", "theirs")
    mira.document(SEAT).pencil.clear(QUANTITY)
    mira.document(SEAT).ink("gone for good")
    meet(ole, mira)
    assert (open_removals(mira), open_removals(ole)) == ([], [])
