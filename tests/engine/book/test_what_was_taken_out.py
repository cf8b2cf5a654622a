"""What was in the book once stays answerable, and can be brought back as it was."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from engine.book import Book
from engine.views import TakenOut
from schemas.errors import BookError, FoundOnDisk, Refused, UsageError
from tests.mini_book import BUSH, BUSH_ID, SEAT, SEAT_ID, plain_git
from tests.shop_floor import Opener, ink, log_in
from tui.commands.frame import run
from tui.main import witnessmark

REACH = "positions.seat.reach"
FILE = f"records/{SEAT}.toml"


@pytest.fixture(params=["index", "walk"])
def mira(request: pytest.FixtureRequest, at: Opener, monkeypatch: pytest.MonkeyPatch) -> Book:
    """Mira's book, in which the seat has a past; asked by the index, and by git alone."""
    if request.param == "walk":
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", "1")
    book = at("mira")
    ink(book, SEAT, "wear", positions__seat__reach="612.5")
    book.document(SEAT).runs.start(20)
    book.document(SEAT).runs.stop(20, 0)
    at("ole").document(SEAT).sign_off("as proved")
    ink(book, SEAT, "more wear", positions__seat__reach="612.6")
    return book


def take_out(folder: Path, *paths: str) -> str:
    plain_git(folder, "rm", "-rq", *paths)
    plain_git(folder, "commit", "-qm", "tidied up")
    return plain_git(folder, "rev-parse", "HEAD").strip()


def gone_by(book: Book) -> list[tuple[str, str]]:
    return [(item.document, item.id) for item in book.taken_out()]


@pytest.mark.parametrize("name", [SEAT, SEAT_ID, FILE])
def test_the_past_of_what_was_taken_out_is_told_by_name_and_identity(
    mira: Book, folder: Path, name: str
) -> None:
    commit = take_out(folder, FILE)
    document = mira.document(name)
    values = [item.change.new for item in document.past.trace(REACH)]
    assert values == [Decimal("612.350"), Decimal("612.5"), Decimal("612.6"), None]
    assert document.past.trace(REACH)[-1].commit == commit
    assert document.past.trace(REACH)[1].change.unit == "mm"
    assert [m.name for m in document.past.marks()][:1] == ["ink-3"]
    assert {m.name for m in document.past.marks()} >= {"ink-1", "run-1", "sign-off-1"}
    assert document.show("ink-2").values["positions"]["seat"]["reach"] == Decimal("612.5")
    assert document.show("run-1").commit
    (change,) = document.past.compare("ink-1", "ink-2").changes
    assert (change.address, change.delta, change.unit) == (REACH, Decimal("0.150"), "mm")
    assert {c.new for c in document.past.compare("ink-3", "now").changes} == {None}
    found = mira.history(name=name, address=REACH).items
    assert [item.change.new for item in found] == [*reversed(values)]
    start = mira.now() - timedelta(days=1)
    assert document.past.since(start).changes or document.past.since(start).end_commit == ""


def test_nobody_works_on_what_is_gone_and_is_told_how_to_get_it_back(
    mira: Book, folder: Path
) -> None:
    take_out(folder, FILE)
    document = mira.document(SEAT)
    assert document.gone
    for act in (
        document.show,
        lambda: document.pencil.set(REACH, "1"),
        lambda: document.ink("x"),
        lambda: document.runs.start(1),
        document.past.compare,
        lambda: document.past.show("pencil"),
        lambda: document.copy("other"),
        document.sign_off,
    ):
        with pytest.raises(UsageError, match="By Hand") as refused:
            act()
        assert f"restore {SEAT_ID}" in refused.value.hint


def test_what_was_taken_out_is_listed_and_found_by_check(mira: Book, folder: Path) -> None:
    assert mira.taken_out() == []
    commit = take_out(folder, FILE)
    (item,) = mira.taken_out()
    assert isinstance(item, TakenOut)
    assert (item.document, item.id, item.kind) == (SEAT, SEAT_ID, "record")
    assert (item.part, item.cell, item.last_ink.name) == ("Seat", "lathe", "ink-3")
    assert item.by is not None
    assert (item.by.commit, item.by.who.name) == (commit, "By Hand")
    (found,) = [f for f in mira.check() if f.rule == "taken-out"]
    assert (found.level, found.record, found.file) == ("error", SEAT, FILE)
    assert SEAT_ID in found.message
    assert [f.rule for f in mira.check([SEAT])] == ["taken-out"]


def test_it_comes_back_in_one_act_with_its_identity_and_its_past(mira: Book, folder: Path) -> None:
    text = (folder / FILE).read_bytes() + b"# a remark\n"
    (folder / FILE).write_bytes(text)
    plain_git(folder, "commit", "-qam", "remark")
    take_out(folder, FILE)
    document = mira.document(SEAT)
    with pytest.raises(Refused, match="needs a reason"):
        document.restore()
    done = document.restore(reason="it runs next week")
    assert (folder / FILE).read_bytes() == text
    assert done.document == SEAT
    assert any("read the values back" in said for said in done.messages)
    assert gone_by(mira) == []
    assert not [f for f in mira.check() if f.rule == "taken-out"]
    values = [item.change.new for item in document.past.trace(REACH)]
    assert values[-3:] == [Decimal("612.6"), None, Decimal("612.6")]
    ink(mira, SEAT, "on it goes", positions__seat__reach="612.7")
    assert mira.document(SEAT_ID).past.trace(REACH)[-1].reason == "on it goes"
    assert mira.document(SEAT).runs.all()[0].number == 1
    assert plain_git(folder, "status", "--porcelain").strip() == ""


def test_its_runs_sign_offs_program_and_photos_come_back_with_it(mira: Book, folder: Path) -> None:
    take_out(folder, FILE, "runs", "signoffs", "programs/seat.nc", "photos/seat-jaws.jpg")
    assert len(gone_by(mira)) == 3
    assert {f.record for f in mira.check() if f.rule == "taken-out"} == {SEAT, SEAT_ID}
    mira.document(SEAT).restore(reason="all of it")
    assert gone_by(mira) == []
    assert (folder / "programs/seat.nc").read_bytes() == b"O0\nG0 X0\nM30\n"
    names = {mark.name for mark in mira.document(SEAT).past.marks()}
    assert {"run-1", "sign-off-1"} <= names


def test_an_older_state_can_be_brought_back_but_no_single_value(mira: Book, folder: Path) -> None:
    take_out(folder, FILE)
    with pytest.raises(UsageError, match="by itself"):
        mira.document(SEAT).restore("ink-1", REACH, "why")
    mira.document(SEAT).restore("ink-2", reason="that one")
    assert mira.document(SEAT).values()[REACH] == Decimal("612.5")


def test_a_program_that_is_another_now_stays_and_is_told(mira: Book, folder: Path) -> None:
    take_out(folder, FILE)
    (folder / "programs/seat.nc").write_bytes(b"O9\nM30\n")
    plain_git(folder, "commit", "-qam", "new program")
    done = mira.document(SEAT).restore(reason="back")
    assert (folder / "programs/seat.nc").read_bytes() == b"O9\nM30\n"
    assert any("programs/seat.nc" in said for said in done.messages)


def test_a_name_that_another_record_has_now(mira: Book, folder: Path) -> None:
    take_out(folder, FILE)
    made = mira.new(SEAT, part="Other", cell="mill", units="mm", reason="new job")
    assert made
    there = mira.document(SEAT)
    assert not there.gone
    assert [said for said in there.namesakes() if SEAT_ID in said]
    assert len(there.past.trace("record.part")) == 1
    assert mira.document(SEAT_ID).past.trace(REACH)[-1].change.new is None
    with pytest.raises(UsageError, match="another record") as refused:
        mira.document(SEAT_ID).restore(reason="back")
    assert "--name" in refused.value.hint
    mira.document(SEAT_ID).restore(reason="back", name="seat-op10-b")
    assert mira.document("seat-op10-b").past.trace(REACH)[-1].change.new == Decimal("612.6")
    assert mira.document(SEAT).namesakes()


def test_a_name_that_several_had_and_none_has_names_the_identities(
    mira: Book, folder: Path
) -> None:
    take_out(folder, FILE)
    mira.new(SEAT, part="Other", cell="mill", units="mm", reason="new job")
    other = mira.document(SEAT).past.trace("record.id")[-1].change.new
    take_out(folder, FILE)
    with pytest.raises(UsageError, match="2 records") as refused:
        mira.document(SEAT)
    assert SEAT_ID in refused.value.hint
    assert str(other) in refused.value.hint
    assert mira.document(str(other)).past.trace("record.part")[0].change.new == "Other"


@pytest.mark.parametrize("by_hand", [True, False])
def test_an_old_name_finds_the_record_but_changes_nothing_under_it(
    mira: Book, folder: Path, by_hand: bool
) -> None:
    if by_hand:
        plain_git(folder, "mv", FILE, "records/cup-op10.toml")
        plain_git(folder, "commit", "-qm", "renamed")
    else:
        mira.document(SEAT).rename("cup-op10")
    old = mira.document(SEAT)
    assert [i.change.new for i in old.past.trace(REACH)][-1] == Decimal("612.6")
    assert old.past.marks() == mira.document("cup-op10").past.marks()
    with pytest.raises(UsageError, match="is called cup-op10 now"):
        old.pencil.set(REACH, "1")
    old.restore("ink-1", REACH, "as it was")
    assert mira.document("cup-op10").values()[REACH] == Decimal("612.350")
    assert gone_by(mira) == []
    mira.refresh()
    take_out(folder, "records/cup-op10.toml")
    for name in (SEAT, "cup-op10", SEAT_ID):
        assert mira.document(name).past.trace(REACH)[-1].change.new is None


def test_a_retired_record_is_not_taken_out(mira: Book) -> None:
    mira.document(SEAT).retire("no longer made")
    assert gone_by(mira) == []
    assert not [f for f in mira.check() if f.rule == "taken-out"]
    assert mira.document(SEAT).past.trace(REACH)


def test_a_handle_goes_on_when_its_record_goes_and_comes_back(mira: Book, folder: Path) -> None:
    document = mira.document(SEAT)
    take_out(folder, FILE)
    assert document.past.trace(REACH)[-1].change.new is None
    with pytest.raises(UsageError, match="taken out"):
        document.pencil.set(REACH, "1")
    document.restore(reason="back")
    assert document.pencil.set(REACH, "613")


@pytest.mark.parametrize(
    ("path", "kind"), [("cells/lathe.toml", "cell"), ("people.toml", "people")]
)
def test_a_cell_and_the_people_come_back_by_a_lead(
    mira: Book, at: Opener, folder: Path, path: str, kind: str
) -> None:
    text = (folder / path).read_bytes()
    take_out(folder, path)
    name = path.removesuffix(".toml")
    assert [(item.document, item.kind) for item in mira.taken_out()] == [(name, kind)]
    with pytest.raises(Refused):
        mira.document(name).restore(reason="back")
    ole = at("ole")
    ole.document(name).restore(reason="back")
    assert (folder / path).read_bytes() == text
    assert len(ole.document(name).past.marks()) == 2


def test_runs_sign_offs_and_events_come_back(mira: Book, at: Opener, folder: Path) -> None:
    ole = at("ole")
    ole.event("lathe", "crash", "bar fell")
    for top, kind in (("runs", "run"), ("signoffs", "sign-off"), ("events", "event")):
        (file,) = list((folder / top).rglob("*.toml"))
        path, text = file.relative_to(folder).as_posix(), file.read_bytes()
        take_out(folder, path)
        (item,) = ole.taken_out()
        assert item.kind == kind
        found = [f for f in ole.check() if f.rule == "taken-out"]
        assert [f.record for f in found] == ["cells/lathe" if kind == "event" else SEAT]
        assert ole.document(item.id).past.marks()
        assert ole.document(item.id).show("ink-1").values
        with pytest.raises(Refused):
            mira.document(item.id).restore(reason="back")
        ole.document(item.id).restore(reason="back")
        assert file.read_bytes() == text
        assert ole.taken_out() == []
        for act in (
            lambda name=item.id: ole.document(name).restore("ink-1", reason="x"),
            lambda name=item.id: ole.document(name).pencil.set("run.quantity", "1"),
        ):
            with pytest.raises(UsageError, match="never changed"):
                act()


def test_a_text_that_lost_its_identity_gives_its_place_back(mira: Book, folder: Path) -> None:
    (folder / FILE).write_bytes(b"x = [\n")
    plain_git(folder, "commit", "-qam", "slip")
    assert gone_by(mira) == [(SEAT, SEAT_ID)]
    assert [said for said in mira.document(SEAT).namesakes() if SEAT_ID in said]
    mira.document(SEAT_ID).restore(reason="mended")
    assert mira.document(SEAT).values()[REACH] == Decimal("612.6")
    assert gone_by(mira) == []


def test_a_text_that_was_broken_when_it_went_needs_an_older_mark(mira: Book, folder: Path) -> None:
    text = (folder / FILE).read_text().replace("reach = 612.6", "reach = nan")
    (folder / FILE).write_text(text)
    plain_git(folder, "commit", "-qam", "slip")
    take_out(folder, FILE)
    with pytest.raises(Refused, match="cannot be used") as refused:
        mira.document(SEAT).restore(reason="back")
    assert "marks" in refused.value.hint
    mira.document(SEAT).restore("ink-3", reason="back")
    assert mira.document(SEAT).values()[REACH] == Decimal("612.6")


def test_what_never_was_is_still_unknown(mira: Book) -> None:
    with pytest.raises(UsageError, match="no record or document") as refused:
        mira.document("seat-op1")
    assert SEAT in refused.value.hint
    assert mira.document(BUSH).namesakes() == []
    assert mira.document(BUSH_ID).name == BUSH


def test_a_book_file_that_was_taken_out_is_no_reason_to_start_another_book(
    mira: Book, at: Opener, folder: Path
) -> None:
    text = (folder / "book.toml").read_bytes()
    commit = take_out(folder, "book.toml")
    with pytest.raises(BookError, match="was taken out of this book") as refused:
        at("ole")
    assert commit[:10] in refused.value.what
    assert "init" not in refused.value.hint
    words = refused.value.hint.split("`")[1].split()
    plain_git(folder, *words[1:])
    plain_git(folder, "commit", "-qam", "back")
    assert (folder / "book.toml").read_bytes() == text
    assert at("ole").document(SEAT).past.trace(REACH)


def test_another_box_took_it_out(mira: Book, folder: Path, tmp_path: Path) -> None:
    meet, other = tmp_path / "meet.git", tmp_path / "other"
    plain_git(tmp_path, "init", "-q", "--bare", "-b", "main", str(meet))
    mira.sync(str(meet))
    plain_git(tmp_path, "clone", "-q", str(meet), str(other))
    take_out(other, FILE)
    plain_git(other, "push", "-q", "origin", "HEAD:main")
    mira.document(SEAT).pencil.set("lot.quantity", "77")
    ink(mira, BUSH, positions__seat__reach="600.1")
    mira.sync(str(meet))
    assert gone_by(mira) == [(SEAT, SEAT_ID)]
    assert mira.document(SEAT).past.trace(REACH)[-1].change.new is None
    assert [f.rule for f in mira.check([SEAT])] == ["taken-out"]
    mira.document(SEAT).restore(reason="it is needed")
    mira.sync(str(meet))
    draft = mira.document(SEAT).pencil.draft()
    assert draft is not None
    assert [mark.value for mark in draft.marks] == [77]  # pencil goes by the identity


def test_nobody_without_the_right_brings_anything_back(
    mira: Book, at: Opener, folder: Path
) -> None:
    take_out(folder, FILE)
    with pytest.raises(Refused):
        at("ada").document(SEAT).restore(reason="back")


def test_a_file_that_lies_in_its_place_is_not_written_over(mira: Book, folder: Path) -> None:
    take_out(folder, FILE)
    (folder / FILE).parent.mkdir(exist_ok=True)
    (folder / FILE).write_bytes(b"somebody's own\n")
    assert mira.document(SEAT).past.trace(REACH)[-1].change.new is None
    for name in (SEAT, SEAT_ID):
        with pytest.raises(FoundOnDisk, match="never inked") as refused:
            mira.document(name).restore(reason="back")
        assert "Move it away" in refused.value.hint
    assert (folder / FILE).read_bytes() == b"somebody's own\n"


def test_by_command(
    mira: Book, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    log_in(monkeypatch, "mira")

    def call(*words: str) -> tuple[int, str, str]:
        status = run(witnessmark, ["--book", str(folder), *words])
        return status, *capsys.readouterr()

    assert call("list", "--taken-out")[2].endswith("nothing was taken out of this book\n")
    commit = take_out(folder, FILE)
    (item,) = json.loads(call("list", "--taken-out", "--format", "json")[1])["items"]
    assert (item["record"], item["id"], item["by"]["commit"]) == (SEAT, SEAT_ID, commit)
    for words in (
        ("trace", SEAT, REACH), ("marks", SEAT), ("show", SEAT, "--at", "ink-2"),
        ("history", "--record", SEAT), ("export-history", "--record", SEAT_ID), ("creep", SEAT),
        ("list", "--taken-out", "--format", "csv"), ("figures", SEAT, "--at", "ink-2"),
    ):  # fmt: skip
        status, out, _ = call(*words)
        assert status == 0, words
        assert out or words[0] == "creep"
    assert call("diff", SEAT, "ink-1", "ink-2")[0] == 1
    for words in (("show", SEAT), ("set", SEAT, f"{REACH}=1"), ("figures", SEAT), ("sheet", SEAT)):
        status, _, said = call(*words)
        assert status == 2, words
        assert "restore" in said or "did not exist" in said
    assert call("check")[0] == 1
    assert call("restore", SEAT)[0] == 3
    assert call("restore", SEAT, "--reason", "back")[0] == 0
    assert call("restore", SEAT, "--reason", "back")[0] == 2
