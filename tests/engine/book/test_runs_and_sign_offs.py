"""Runs, marks, sign-offs and events: tied to one exact revision, void by themselves."""

from datetime import timedelta

import pytest

from engine.book import Book, sign_offs
from schemas.errors import Refused, UsageError
from tests.mini_book import BUSH, SEAT, SEAT_ID, Stepping, picture, plain_git

REACH = "positions.seat.reach"


def state(book, name=SEAT):
    return next(item for item in book.list_records(findings=False) if item.record == name)


def test_since_the_run_compares_with_what_stood_at_its_stop(at, folder):
    mira = at("mira")
    mira.document(SEAT).runs.start(110)
    inks = []
    for value in ("612.4", "612.5"):
        mira.document(SEAT).pencil.set(REACH, value)
        inks.append(mira.document(SEAT).ink("crept up").commit)
    mira.document(SEAT).runs.stop(108, 2)
    assert mira.document(SEAT).past.since_run().changes == ()
    mira.document(SEAT).pencil.set(REACH, "613")
    mira.document(SEAT).pencil.set("lot.quantity", "99")
    assert mira.document(SEAT).past.since_run().changes == ()  # pencil is no change yet
    mira.document(SEAT).ink("new jaws")
    changes = {
        c.address: (str(c.old), str(c.new)) for c in mira.document(SEAT).past.since_run().changes
    }
    assert changes == {REACH: ("612.5", "613"), "lot.quantity": ("110", "99")}
    (run,) = mira.document(SEAT).runs.all()
    assert (run.good, run.scrap, run.quantity, run.end_commit) == (108, 2, 110, inks[-1])
    end = plain_git(folder, "show", f"HEAD:runs/{SEAT_ID}/{run.id}.toml")
    assert all(commit in end.split("[end]")[1] for commit in inks)
    assert state(mira).changed_since_run == 2


def test_a_value_knows_the_runs_that_were_made_with_it(at):
    mira = at("mira")
    for value in ("612.4", "612.5"):
        mira.document(SEAT).pencil.set(REACH, value)
        mira.document(SEAT).ink("x")
        for _ in range(2):
            mira.document(SEAT).runs.start()
            mira.document(SEAT).runs.stop(1, 0)
    assert [item.runs for item in mira.document(SEAT).past.trace(REACH)] == [(), (1, 2), (3, 4)]


def test_one_run_at_a_time_and_none_that_is_not_as_inked(at, folder):
    mira = at("mira")
    mira.document(SEAT).runs.start()
    with pytest.raises(Refused, match="still open"):
        at("ole").document(SEAT).runs.start()
    assert mira.document(SEAT).past.since_run(1).start.startswith("run 1 (its start")
    mira.document(SEAT).runs.stage(percent=30)
    mira.document(SEAT).runs.piece(which="first", note="good")
    mira.document(SEAT).runs.stop(1, 0)
    with pytest.raises(Refused, match="no run"):
        mira.document(SEAT).runs.stop(1, 0)
    with pytest.raises(UsageError):
        mira.document(SEAT).runs.stop(-1, 0)
    (folder / "programs/seat.nc").write_text("edited at the machine")
    with pytest.raises(Refused, match="not as inked"):
        mira.document(SEAT).runs.start()
    with pytest.raises(UsageError, match="no record"):
        mira.document("cells/lathe").runs.start()
    with pytest.raises(UsageError, match="has no run"):
        mira.document(SEAT).past.since_run(7)


@pytest.mark.parametrize(
    "what",
    [
        "record",
        "program",
        "photo",
        "cell",
        "policy",
        "photo gone",
        "nothing",
        "other record",
        "rename",
        "run",
    ],
)
def test_a_sign_off_is_void_when_anything_it_covers_changes(at, folder, what):
    ole = at("ole")
    assert state(ole).signed_off == "no"
    ole.document(SEAT).sign_off("looks right")
    assert state(ole).signed_off == "yes"
    name = SEAT
    if what == "record":
        ole.document(SEAT).pencil.set("notes.text", "other words")
        ole.document(SEAT).ink()
    elif what == "program":
        (folder / "programs/seat.nc").write_bytes(b"O2\nM30\n")
        ole.document(SEAT).ink()
    elif what == "photo":
        (folder / "photos/seat-jaws.jpg").write_bytes(picture(99))
        ole.document(SEAT).ink()
    elif what == "photo gone":
        plain_git(folder, "rm", "-q", "photos/seat-jaws.jpg")
        plain_git(folder, "commit", "-qm", "by hand")
    elif what == "cell":
        ole.document("cells/lathe").pencil.set("axes.reach.speed", "900")
        ole.document("cells/lathe").ink()
    elif what == "policy":
        ole.document("book").pencil.set("policy.hold_safety", "1.5")
        ole.document("book").ink()
    elif what == "other record":
        ole.document(BUSH).pencil.set("lot.quantity", "5")
        ole.document(BUSH).ink()
    elif what == "rename":
        name = "seat-other"
        ole.document(SEAT).rename(name)
    elif what == "run":
        ole.document(SEAT).runs.start()
        ole.document(SEAT).runs.stop(1, 0)
    harmless = what in ("nothing", "other record", "rename", "run")
    assert state(ole, name).signed_off == ("yes" if harmless else "void")
    if what == "program":
        ole.document(SEAT).restore("sign-off-1", "", "as it was accepted")
        assert state(ole).signed_off == "yes"
        assert (folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X0\nM30\n"


def test_what_changed_since_the_sign_off(at):
    ole = at("ole")
    with pytest.raises(UsageError, match="never signed off"):
        ole.document(SEAT).past.since_sign_off()
    ole.document(SEAT).sign_off()
    ole.document(SEAT).pencil.set(REACH, "613")
    done = ole.document(SEAT).ink("x")
    assert any("does not cover" in message for message in done.messages)
    assert any("first stage" in message for message in done.messages)
    assert [c.address for c in ole.document(SEAT).past.since_sign_off().changes] == [REACH]


def test_what_is_not_in_the_book_as_linked_is_not_signed_off(at, folder):
    ole = at("ole")
    (folder / "programs/seat.nc").write_text("edited")
    with pytest.raises(Refused, match=r"seat\.nc"):
        ole.document(SEAT).sign_off()
    ole.document(SEAT).ink()
    ole.document(SEAT).pencil.set("photos.tray.file", "photos/none.jpg")
    ole.document(SEAT).ink()
    with pytest.raises(Refused, match=r"none\.jpg"):
        ole.document(SEAT).sign_off()


def test_a_revision_that_came_in_at_that_moment_is_not_signed_off_unseen(at):
    ole, mira = at("ole"), at("mira")
    seen = ole.document(SEAT).held()
    mira.document(SEAT).pencil.set(REACH, "613")
    mira.document(SEAT).ink("x")
    with pytest.raises(Refused, match="at this moment"):
        sign_offs.sign_off(seen, "")
    ole.document(SEAT).sign_off()


def test_a_position_from_before_an_event_warns_when_it_comes_back(at):
    mira = at("mira")
    mira.document(SEAT).pencil.set(REACH, "613")
    mira.document(SEAT).ink("x")
    mira.event("lathe", "crash", "hit the vice\nhard")
    with pytest.raises(Refused, match="reason"):
        mira.document(SEAT).restore("ink-1", REACH, " ")
    done = mira.document(SEAT).restore("ink-1", REACH, "back")
    assert any("taught before: crash" in message for message in done.messages)
    assert any("confirmed" in message for message in done.messages)
    for bad in (("lathe", "storm", "x"), ("lathes", "crash", "x")):
        with pytest.raises(UsageError):
            mira.event(*bad)
    with pytest.raises(Refused):
        mira.event("lathe", "crash", "  ")


def test_marks_name_every_point_and_each_can_be_looked_at(at):
    ole = at("ole")
    ole.document(SEAT).pencil.set("lot.quantity", "50")
    ole.document(SEAT).ink()
    ole.document(SEAT).runs.start()
    ole.document(SEAT).runs.stop(49, 1)
    ole.document(SEAT).sign_off()
    names = [mark.name for mark in ole.document(SEAT).past.marks()]
    assert names == ["sign-off-1", "run-1", "ink-2", "ink-1"]
    quantities = {
        n: ole.document(SEAT).values(n)["lot.quantity"]
        for n in [*names, "run-1-start", "now", "pencil"]
    }
    assert quantities == {**dict.fromkeys(quantities, 50), "ink-1": 110}
    commit = ole.document(SEAT).past.marks()[-1].commit
    assert ole.document(SEAT).show(commit[:12]).commit == commit
    for bad in (
        "ink-0",
        "ink-9",
        "run-2",
        "sign-off-0",
        "abc",
        "zzzzzzz",
        "ink-1; rm",
        "HEAD~1",
        "0" * 40,
    ):
        with pytest.raises(UsageError, match="has no mark"):
            ole.document(SEAT).show(bad)


def test_since_a_moment_says_what_was_known_then(folder):
    clock = Stepping(step=timedelta(hours=1))
    book = Book.open(folder, login="mira", clock=clock)
    before = clock.at
    book.document(SEAT).pencil.set("lot.quantity", "50")
    book.document(SEAT).ink()
    middle = clock.at
    book.document(SEAT).pencil.set("lot.quantity", "60")
    book.document(SEAT).ink()
    for moment, old in ((before, 110), (middle, 50)):
        (change,) = book.document(SEAT).past.since(moment).changes
        assert (change.old, change.new) == (old, 60)
    compared = book.document(SEAT).past.since(before - timedelta(days=900))
    assert "began later" in compared.start
    assert all(c.old is None for c in compared.changes)
    assert book.moment("3 hours") < clock.at
    book.close()


def test_a_program_is_compared_by_its_content(at, folder):
    mira = at("mira")
    (folder / "programs/seat.nc").write_bytes(b"O2\nM30\n")
    pencilled = [c.address for c in mira.document(SEAT).past.compare().changes]
    assert pencilled == ["program.content"]
    mira.document(SEAT).ink()
    assert [c.address for c in mira.document(SEAT).past.compare("ink-1", "now").changes] == [
        "program.content"
    ]
