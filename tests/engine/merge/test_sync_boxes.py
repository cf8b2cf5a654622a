"""Two boxes meet: what merges silently, what stays open, and that nothing is lost.

The cases are those of docs/sync.md; no published source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from schemas.errors import FoundOnDisk, Refused, UsageError
from tests import shop_floor
from tests.mini_book import BUSH, SEAT, picture, plain_git, session_of

LIFT, REACH = "positions.seat.lift", "positions.seat.reach"


def ink(book, name, reason="as measured", **values):
    return shop_floor.ink(book, name, reason, **values).commit


def put(book, name, address, text):
    return ink(book, name, **{address: text})


def clean(book):
    assert plain_git(book.folder, "status", "--porcelain") == ""


def meet(first, then):
    """The first shares, then the other merges and shares, then the first takes it in."""
    first.sync()
    done = then.sync()
    back = first.sync()
    assert first.head == then.head
    clean(first)
    clean(then)
    return done, back


def test_a_fresh_clone_opens_and_has_nothing_to_do(shop):
    book = shop.box("one", "mira")
    done = book.sync()
    assert (done.came, done.went, done.problem, done.merged) == ((), (), "", "")
    assert book.waiting().commits == ()


def test_different_values_merge_silently_and_are_listed_by_who_made_them(two):
    mira, ole = two
    theirs = put(ole, SEAT, "lot.quantity", "99")
    mine = put(mira, SEAT, "tools.T04.stick_out", "63.5")
    done, back = meet(ole, mira)
    assert done.merged == mira.head
    assert not done.contested
    assert [(a.document, a.change.address, a.who.key, a.commit) for a in done.came] == [
        (SEAT, "lot.quantity", "ole", theirs)
    ]
    assert [(a.change.address, a.who.key, a.commit) for a in back.came] == [
        ("tools.T04.stick_out", "mira", mine)
    ]
    values = mira.document(SEAT).values()
    assert (values["lot.quantity"], values["tools.T04.stick_out"]) == (99, Decimal("63.5"))
    for address, who in (("lot.quantity", "ole"), ("tools.T04.stick_out", "mira")):
        assert [t.who.key for t in mira.document(SEAT).past.trace(address)] == ["ole", who]


def test_the_merge_is_a_commit_of_who_syncs_and_makes_no_value(two):
    mira, ole = two
    put(ole, SEAT, "lot.quantity", "99")
    put(mira, SEAT, "notes.text", "said")
    done, _ = meet(ole, mira)
    saved = session_of(mira).past.saved(done.merged)
    assert (saved.kind, saved.who.key, saved.whole, len(saved.parents)) == (
        "merge",
        "mira",
        True,
        2,
    )
    rows = session_of(mira).past.rows("wm-seat10", lambda _: True)
    assert done.merged not in {row.saved.id for row in rows}
    assert plain_git(mira.folder, "fsck", "--strict") == ""


def test_one_value_changed_on_both_sides_stays_open_with_both_names(two):
    mira, ole = two
    put(ole, SEAT, "lot.quantity", "99")
    mine = put(mira, SEAT, "lot.quantity", "150")
    put(mira, SEAT, "notes.text", "goes on")
    done, _ = meet(ole, mira)
    (item,) = done.contested
    assert (item.document, item.address, item.shared, item.aside) == (SEAT, "lot.quantity", 99, 150)
    assert (item.shared_by.key, item.aside_by.key, item.aside_commit) == ("ole", "mira", mine)
    assert mira.document(SEAT).values()["lot.quantity"] == 99
    assert mira.document(SEAT).values()["notes.text"] == "goes on"
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert (mark.value, mark.inked, mark.who.key, mark.contested.key) == (150, 99, "mira", "ole")
    assert mine[:10] in mark.note
    with pytest.raises(Refused, match="somebody else inked"):
        mira.document(SEAT).ink()


def test_keep_and_take_decide(two):
    mira, ole = two
    for n in (1, 2):
        put(ole, SEAT, "lot.quantity", f"{n}01")
        put(mira, SEAT, "lot.quantity", f"{n}50")
        meet(ole, mira)
        if n == 1:
            mira.document(SEAT).pencil.keep()
            mira.document(SEAT).ink("ours")
            meet(mira, ole)
            assert ole.document(SEAT).values()["lot.quantity"] == 150
        else:
            mira.document(SEAT).pencil.rub_out()
            assert mira.document(SEAT).pencil.draft() is None
    assert (
        ole.document(SEAT).values()["lot.quantity"]
        == mira.document(SEAT).values()["lot.quantity"]
        == 201
    )


def test_the_coupled_group_is_never_half_and_half(two):
    mira, ole = two
    put(ole, SEAT, "jaws.bite", "8.0")
    put(mira, SEAT, LIFT, "149.4")
    put(mira, SEAT, "jaws.kept_at", "rack 5")  # not coupled: goes on
    done, _ = meet(ole, mira)
    assert [item.address for item in done.contested] == [LIFT]
    values = mira.document(SEAT).values()
    assert (values["jaws.bite"], values[LIFT], values["jaws.kept_at"]) == (
        Decimal("8.0"), Decimal("148.900"), "rack 5",
    )  # fmt: skip
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert (mark.address, mark.contested.key) == (LIFT, "ole")


def test_a_side_that_holds_all_changes_of_the_other_and_more_is_no_dispute(two):
    mira, ole = two
    put(ole, SEAT, "jaws.bite", "8.0")
    ink(mira, SEAT, jaws__bite="8.0", positions__seat__lift="149.4")
    done, _ = meet(ole, mira)
    assert not done.contested
    assert mira.document(SEAT).values()[LIFT] == Decimal("149.4")


def test_what_somebody_else_inked_on_this_box_goes_to_their_pencil(shop):
    one, two = shop.box("one", "mira"), shop.box("two", "ole")
    put(two, "cells/mill", "axes.lift.speed", "500")
    lead = shop.box("one", "ole")
    put(lead, "cells/mill", "axes.lift.speed", "700")
    put(one, SEAT, "notes.text", "x")
    two.sync()
    done = one.sync()  # Mira, who may not change a cell
    assert [item.aside_by.key for item in done.contested] == ["ole"]
    drafts = {draft.who.key: draft for draft in one.drafts()}
    assert list(drafts) == ["ole"]
    assert drafts["ole"].marks[0].value == 700
    assert one.document("cells/mill").values()["axes.lift.speed"] == 500


def test_pencil_that_is_there_is_not_written_over(two):
    mira, ole = two
    put(mira, SEAT, "lot.quantity", "150")
    mira.document(SEAT).pencil.set("lot.quantity", "160")  # later than what is inked
    put(ole, SEAT, "lot.quantity", "99")
    meet(ole, mira)
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert (mark.value, mark.contested.key) == (160, "ole")


def test_rename_and_change_meet_by_identity(two):
    mira, ole = two
    ole.document(SEAT).rename("seat-new")
    put(mira, SEAT, "lot.quantity", "77")
    mira.document(SEAT).pencil.set("notes.text", "pencil goes along")
    done, _ = meet(ole, mira)
    assert [(a.document, a.what) for a in done.came] == [("seat-new", "renamed")]
    assert mira.document("seat-new").values()["lot.quantity"] == 77
    assert mira.document("seat-new").pencil.draft().marks[0].value == "pencil goes along"
    assert SEAT not in mira.documents()


def test_both_rename_and_the_shared_name_stays(two):
    mira, ole = two
    ole.document(SEAT).rename("seat-a")
    mira.document(SEAT).rename("seat-b")
    done, _ = meet(ole, mira)
    assert "seat-a" in mira.documents()
    assert "seat-b" not in mira.documents()
    assert any("renamed on both sides" in said for said in done.messages)


def test_two_records_of_one_name_both_live(two):
    mira, ole = two
    ole.new("fresh", part="Theirs", cell="mill", units="mm")
    mira.document(SEAT).copy("fresh")
    mine = mira.document("fresh").values()["record.id"]
    done, _ = meet(ole, mira)
    assert mira.document("fresh").values()["record.part"] == "Theirs"
    assert mira.document(f"fresh-{mine}").values()["record.part"] == "Seat"
    assert any("took the name fresh" in said for said in done.messages)


def test_names_that_differ_in_case_only_are_one_name(two):
    mira, ole = two
    ole.new("Fresh", part="Theirs", cell="mill", units="mm")
    mira.new("fresh", part="Mine", cell="mill", units="mm")
    meet(ole, mira)
    names = [item.record for item in ole.list_records(findings=False)]
    assert len({name.lower() for name in names}) == len(names) == 4


def test_runs_of_both_sides_are_there_and_one_number_for_two_is_not_guessed(two):
    mira, ole = two
    for book, good in ((ole, 10), (mira, 20)):
        book.document(SEAT).runs.start()
        book.document(SEAT).runs.stop(good, 0)
    meet(ole, mira)
    assert sorted((run.number, run.good) for run in mira.document(SEAT).runs.all()) == [
        (1, 10),
        (1, 20),
    ]
    with pytest.raises(UsageError, match="run-1 stands for 2 runs"):
        mira.document(SEAT).show("run-1")
    mira.document(SEAT).runs.start()
    assert mira.document(SEAT).runs.all()[-1].number == 2


def test_one_run_continued_on_both_sides_keeps_every_entry(two):
    mira, ole = two
    mira.document(SEAT).runs.start()
    meet(mira, ole)
    ole.document(SEAT).runs.confirm(note="from the desk")
    mira.document(SEAT).runs.piece(which="first")
    mira.document(SEAT).runs.stop(5, 1)
    meet(ole, mira)
    log = [(entry.what, entry.who.key) for entry in ole.document(SEAT).runs.log()]
    assert sorted(log) == sorted(
        [("start", "mira"), ("confirm", "ole"), ("piece", "mira"), ("stop", "mira")]
    )
    assert [(run.good, run.stopped is not None) for run in ole.document(SEAT).runs.all()] == [
        (5, True)
    ]


def test_a_program_changed_on_both_sides_is_kept_twice_and_linked_in_pencil(two):
    mira, ole = two
    for book, text in ((ole, b"O0\nG0 X9\nM30\n"), (mira, b"O0\nG0 X5\nM30\n")):
        (book.folder / "programs/seat.nc").write_bytes(text)
        book.document(SEAT).ink("better")
    done, _ = meet(ole, mira)
    assert (mira.folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X9\nM30\n"
    (aside,) = (ole.folder / "programs").glob("seat-aside-*.nc")
    assert aside.read_bytes() == b"O0\nG0 X5\nM30\n"
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert (mark.address, mark.value) == ("program.file", f"programs/{aside.name}")
    assert any("changed on both sides" in said for said in done.messages)
    mira.document(SEAT).ink("mine is right")
    meet(mira, ole)
    assert ole.document(SEAT).values()["program.file"] == f"programs/{aside.name}"


def test_a_photo_changed_on_one_side_comes_with_its_hash(two):
    mira, ole = two
    (ole.folder / "photos/seat-jaws.jpg").write_bytes(picture(77))
    ole.document(SEAT).pencil.set("photos.jaws.sha256", "now")
    ole.document(SEAT).ink("new jaws")
    put(mira, SEAT, "photos.jaws.note", "look left")
    meet(ole, mira)
    assert (mira.folder / "photos/seat-jaws.jpg").read_bytes() == picture(77)
    assert mira.document(SEAT).values()["photos.jaws.note"] == "look left"
    assert not [f for f in mira.check([SEAT]) if f.rule.startswith("photo")]


def test_retired_there_and_changed_here_keeps_the_change(two):
    mira, ole = two
    ole.document(SEAT).retire("sold")
    put(mira, SEAT, "lot.quantity", "5")
    meet(ole, mira)
    values = ole.document(SEAT).values()
    assert (values["record.retired"], values["lot.quantity"]) == (True, 5)


@pytest.mark.parametrize("deletes", ["there", "here"])
def test_deleted_by_hand_and_changed_keeps_the_change(two, deletes):
    mira, ole = two
    gone, kept = (ole, mira) if deletes == "there" else (mira, ole)
    plain_git(gone.folder, "rm", "-q", f"records/{SEAT}.toml", "programs/seat.nc")
    plain_git(gone.folder, "commit", "-q", "-m", "away with it")
    (kept.folder / "programs/seat.nc").write_bytes(b"O0\nG0 X5\nM30\n")
    put(kept, SEAT, "lot.quantity", "5")
    done, back = meet(ole, mira)
    assert ole.document(SEAT).values()["lot.quantity"] == 5
    assert (ole.folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X5\nM30\n"
    assert any("the change stays" in said for said in done.messages)
    words = " ".join([*done.messages, *back.messages])
    assert deletes == "here" or "was not made by this program" in words


def test_an_entry_taken_out_there_and_changed_here_stays_whole(two):
    mira, ole = two
    ole.document(SEAT).pencil.clear("photos.jaws")
    ole.document(SEAT).ink("no photo")
    put(mira, SEAT, "photos.jaws.note", "look left")
    done, _ = meet(ole, mira)
    assert mira.document(SEAT).values()["photos.jaws.file"] == "photos/seat-jaws.jpg"
    assert any("photos.jaws was taken out" in said for said in done.messages)


def test_a_hand_edit_on_disk_is_never_written_over(two):
    mira, ole = two
    path = mira.folder / f"records/{SEAT}.toml"
    put(ole, SEAT, "lot.quantity", "99")
    ole.sync()
    edited = path.read_bytes().replace(b"boring bar 16", b"boring bar 20")
    path.write_bytes(edited)
    put(mira, BUSH, "lot.quantity", "5")
    with pytest.raises(FoundOnDisk):
        mira.sync()
    assert path.read_bytes() == edited
    mira.document(SEAT).on_disk.take()
    done = mira.sync()
    assert not done.problem
    assert mira.document(SEAT).pencil.draft().marks[0].value == "boring bar 20"
    assert mira.document(SEAT).values()["lot.quantity"] == 99


def test_a_hand_edit_of_what_nobody_else_changed_is_in_nobodys_way(two):
    mira, ole = two
    put(ole, BUSH, "lot.quantity", "99")
    put(mira, BUSH, "notes.text", "x")
    ole.sync()
    path = mira.folder / f"records/{SEAT}.toml"
    path.write_bytes(path.read_bytes().replace(b"boring bar 16", b"boring bar 20"))
    assert mira.sync().merged
    assert b"boring bar 20" in path.read_bytes()


def test_a_program_on_disk_that_was_never_inked_is_not_written_over(two):
    mira, ole = two
    (ole.folder / "programs/seat.nc").write_bytes(b"O0\nG0 X9\nM30\n")
    ole.document(SEAT).ink("better")
    ole.sync()
    (mira.folder / "programs/seat.nc").write_bytes(b"O0\nG0 X5\nM30\n")
    with pytest.raises(FoundOnDisk, match="has come in"):
        mira.sync()
    assert (mira.folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X5\nM30\n"
    mira.document(SEAT).ink("mine")
    assert mira.sync().merged


def test_offline_it_works_and_tells_what_waits(two, shop):
    mira, _ = two
    away = shop.hub.rename(shop.folder / "away.git")
    commit = put(mira, SEAT, "lot.quantity", "5")
    done = mira.sync()
    assert "not there" in done.problem
    assert [sent.commit for sent in done.waiting] == [commit]
    assert [sent.commit for sent in mira.waiting().commits] == [commit]
    away.rename(shop.hub)
    done = mira.sync()
    assert (done.problem, [sent.commit for sent in done.went]) == ("", [commit])
    assert mira.waiting().commits == ()
    assert mira.waiting().seen is not None


def test_it_tries_again_when_somebody_was_faster(two, shop, monkeypatch):
    from engine.repo.remote import Remote

    mira, ole = two
    third = shop.box("three", "ole")
    for n, book in enumerate((ole, third), 1):
        put(book, BUSH, f"tools.T0{n}.what", "drill")
    put(mira, SEAT, "lot.quantity", "5")
    real, faster = Remote.push, [ole, third]

    def push(self, *words):
        if faster:
            book = faster.pop()
            monkeypatch.setattr(Remote, "push", real)
            book.sync()
            monkeypatch.setattr(Remote, "push", push)
        return real(self, *words)

    monkeypatch.setattr(Remote, "push", push)
    done = mira.sync()
    assert not done.problem
    assert {a.change.address for a in done.came} == {"tools.T01.what", "tools.T02.what"}
    assert shop.hub_tip() == mira.head


def test_who_only_reads_takes_in_and_merges_nothing(shop):
    ole, ada = shop.box("one", "ole"), shop.box("two", "ada")
    put(ole, SEAT, "lot.quantity", "99")
    ole.sync()
    assert [a.change.new for a in ada.sync().came] == [99]
    put(shop.box("two", "mira"), SEAT, "lot.quantity", "5")
    put(ole, SEAT, "notes.text", "x")
    ole.sync()
    with pytest.raises(Refused, match="reads here"):
        ada.sync()


def test_a_merge_that_makes_a_figure_not_fit_says_so(two, monkeypatch):
    mira, ole = two
    from engine.book import figures

    class Unfit:
        name, at, verdict, value, unit, limit = "free height", "blank", "does not fit", 1.0, "mm", 3

        class kind:  # noqa: N801
            bound = "least"

    def of_document(session, document, commit=""):
        del session, commit
        both = document.values["lot.quantity"] == 99 and document.values["notes.text"] == "mine"
        return (Unfit(),) if both else ()

    monkeypatch.setattr(figures, "of_document", of_document)
    put(ole, SEAT, "lot.quantity", "99")
    put(mira, SEAT, "notes.text", "mine")
    done, _ = meet(ole, mira)
    assert any("fitted on both sides: free height (blank) 1.00 mm" in m for m in done.messages)
