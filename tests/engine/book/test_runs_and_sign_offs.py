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
    mira.run_start(SEAT, 130)
    inks = []
    for value in ("612.4", "612.5"):
        mira.set(SEAT, REACH, value)
        inks.append(mira.ink(SEAT, "crept up").commit)
    mira.run_stop(SEAT, 128, 2)
    assert mira.compare_since_run(SEAT).changes == ()
    mira.set(SEAT, REACH, "613")
    mira.set(SEAT, "lot.quantity", "99")
    assert mira.compare_since_run(SEAT).changes == ()  # pencil is no change yet
    mira.ink(SEAT, "new jaws")
    changes = {c.address: (str(c.old), str(c.new)) for c in mira.compare_since_run(SEAT).changes}
    assert changes == {REACH: ("612.5", "613"), "lot.quantity": ("130", "99")}
    (run,) = mira.runs(SEAT)
    assert (run.good, run.scrap, run.quantity, run.end_commit) == (128, 2, 130, inks[-1])
    end = plain_git(folder, "show", f"HEAD:runs/{SEAT_ID}/{run.id}.toml")
    assert all(commit in end.split("[end]")[1] for commit in inks)
    assert state(mira).changed_since_run == 2


def test_a_value_knows_the_runs_that_were_made_with_it(at):
    mira = at("mira")
    for value in ("612.4", "612.5"):
        mira.set(SEAT, REACH, value)
        mira.ink(SEAT, "x")
        for _ in range(2):
            mira.run_start(SEAT)
            mira.run_stop(SEAT, 1, 0)
    assert [item.runs for item in mira.trace(SEAT, REACH)] == [(), (1, 2), (3, 4)]


def test_one_run_at_a_time_and_none_that_is_not_as_inked(at, folder):
    mira = at("mira")
    mira.run_start(SEAT)
    with pytest.raises(Refused, match="still open"):
        at("ole").run_start(SEAT)
    assert mira.compare_since_run(SEAT, 1).start.startswith("run 1 (its start")
    mira.run_step(SEAT, "stage", percent=30)
    mira.run_step(SEAT, "piece", piece="first", note="good")
    mira.run_stop(SEAT, 1, 0)
    with pytest.raises(Refused, match="no run"):
        mira.run_stop(SEAT, 1, 0)
    with pytest.raises(UsageError):
        mira.run_stop(SEAT, -1, 0)
    (folder / "programs/seat.nc").write_text("edited at the machine")
    with pytest.raises(Refused, match="not as inked"):
        mira.run_start(SEAT)
    with pytest.raises(UsageError, match="no record"):
        mira.run_start("cells/lathe")
    with pytest.raises(UsageError, match="has no run"):
        mira.compare_since_run(SEAT, 7)


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
    ole.sign_off(SEAT, "looks right")
    assert state(ole).signed_off == "yes"
    name = SEAT
    if what == "record":
        ole.set(SEAT, "notes.text", "other words")
        ole.ink(SEAT)
    elif what == "program":
        (folder / "programs/seat.nc").write_bytes(b"O2\nM30\n")
        ole.ink(SEAT)
    elif what == "photo":
        (folder / "photos/seat-jaws.jpg").write_bytes(picture(99))
        ole.ink(SEAT)
    elif what == "photo gone":
        plain_git(folder, "rm", "-q", "photos/seat-jaws.jpg")
        plain_git(folder, "commit", "-qm", "by hand")
    elif what == "cell":
        ole.set("cells/lathe", "axes.reach.speed", "900")
        ole.ink("cells/lathe")
    elif what == "policy":
        ole.set("book", "policy.hold_safety", "1.5")
        ole.ink("book")
    elif what == "other record":
        ole.set(BUSH, "lot.quantity", "5")
        ole.ink(BUSH)
    elif what == "rename":
        name = "seat-other"
        ole.rename(SEAT, name)
    elif what == "run":
        ole.run_start(SEAT)
        ole.run_stop(SEAT, 1, 0)
    harmless = what in ("nothing", "other record", "rename", "run")
    assert state(ole, name).signed_off == ("yes" if harmless else "void")
    if what == "program":
        ole.restore(SEAT, "sign-off-1", "", "as it was accepted")
        assert state(ole).signed_off == "yes"
        assert (folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X0\nM30\n"


def test_what_changed_since_the_sign_off(at):
    ole = at("ole")
    with pytest.raises(UsageError, match="never signed off"):
        ole.compare_since_sign_off(SEAT)
    ole.sign_off(SEAT)
    ole.set(SEAT, REACH, "613")
    done = ole.ink(SEAT, "x")
    assert any("does not cover" in message for message in done.messages)
    assert any("first stage" in message for message in done.messages)
    assert [c.address for c in ole.compare_since_sign_off(SEAT).changes] == [REACH]


def test_what_is_not_in_the_book_as_linked_is_not_signed_off(at, folder):
    ole = at("ole")
    (folder / "programs/seat.nc").write_text("edited")
    with pytest.raises(Refused, match=r"seat\.nc"):
        ole.sign_off(SEAT)
    ole.ink(SEAT)
    ole.set(SEAT, "photos.tray.file", "photos/none.jpg")
    ole.ink(SEAT)
    with pytest.raises(Refused, match=r"none\.jpg"):
        ole.sign_off(SEAT)


def test_a_revision_that_came_in_at_that_moment_is_not_signed_off_unseen(at):
    ole, mira = at("ole"), at("mira")
    seen = ole._session.find(SEAT)
    mira.set(SEAT, REACH, "613")
    mira.ink(SEAT, "x")
    with pytest.raises(Refused, match="at this moment"):
        sign_offs.sign_off(ole._session, seen, "")
    ole.sign_off(SEAT)


def test_a_position_from_before_an_event_warns_when_it_comes_back(at):
    mira = at("mira")
    mira.set(SEAT, REACH, "613")
    mira.ink(SEAT, "x")
    mira.event("lathe", "crash", "hit the vice\nhard")
    with pytest.raises(Refused, match="reason"):
        mira.restore(SEAT, "ink-1", REACH, " ")
    done = mira.restore(SEAT, "ink-1", REACH, "back")
    assert any("taught before: crash" in message for message in done.messages)
    assert any("confirmed" in message for message in done.messages)
    for bad in (("lathe", "storm", "x"), ("lathes", "crash", "x")):
        with pytest.raises(UsageError):
            mira.event(*bad)
    with pytest.raises(Refused):
        mira.event("lathe", "crash", "  ")


def test_marks_name_every_point_and_each_can_be_looked_at(at):
    ole = at("ole")
    ole.set(SEAT, "lot.quantity", "50")
    ole.ink(SEAT)
    ole.run_start(SEAT)
    ole.run_stop(SEAT, 49, 1)
    ole.sign_off(SEAT)
    names = [mark.name for mark in ole.marks(SEAT)]
    assert names == ["sign-off-1", "run-1", "ink-2", "ink-1"]
    quantities = {
        n: ole.values(SEAT, n)["lot.quantity"] for n in [*names, "run-1-start", "now", "pencil"]
    }
    assert quantities == {**dict.fromkeys(quantities, 50), "ink-1": 130}
    commit = ole.marks(SEAT)[-1].commit
    assert ole.show(SEAT, commit[:12]).commit == commit
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
            ole.show(SEAT, bad)


def test_since_a_moment_says_what_was_known_then(folder):
    clock = Stepping(step=timedelta(hours=1))
    book = Book.open(folder, login="mira", clock=clock)
    before = clock.at
    book.set(SEAT, "lot.quantity", "50")
    book.ink(SEAT)
    middle = clock.at
    book.set(SEAT, "lot.quantity", "60")
    book.ink(SEAT)
    for moment, old in ((before, 130), (middle, 50)):
        (change,) = book.compare_since(SEAT, moment).changes
        assert (change.old, change.new) == (old, 60)
    compared = book.compare_since(SEAT, before - timedelta(days=900))
    assert "began later" in compared.start
    assert all(c.old is None for c in compared.changes)
    assert book.moment("3 hours") < clock.at
    book.close()


def test_a_program_is_compared_by_its_content(at, folder):
    mira = at("mira")
    (folder / "programs/seat.nc").write_bytes(b"O2\nM30\n")
    pencilled = [c.address for c in mira.compare(SEAT).changes]
    assert pencilled == ["program.content"]
    mira.ink(SEAT)
    assert [c.address for c in mira.compare(SEAT, "ink-1", "now").changes] == ["program.content"]
