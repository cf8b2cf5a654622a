"""A refusal says every value as it is, none as nothing, and where; a lock is held so long only."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.book.mending import Mended, Mender
from engine.book.transaction import CommitPlan, Inker
from engine.people.identity import seal
from engine.repo.git import Git
from schemas.errors import BelongsTogether, BookError, Conflict, Refused
from tests.mini_book import BUSH, SEAT, plain_git, session_of
from tests.shop_floor import Opener, edit, ink

PATH = f"records/{SEAT}.toml"
BITE, REACH, NOTES = "jaws.bite", "positions.seat.reach", "notes.text"


# what is nothing, in ink or in pencil


@pytest.mark.parametrize("address", [BITE, "fingers.blank.id"])
def test_older_pencil_that_takes_a_value_out_is_listed_as_nothing(at: Opener, address: str) -> None:
    mira = at("mira")
    was = mira.document(SEAT).values()[address]
    mira.document(SEAT).pencil.clear(address)
    mira.document(SEAT).pencil.set(REACH, "612.5")
    with pytest.raises(BelongsTogether) as caught:
        mira.document(SEAT).ink("taught", [REACH])
    assert f": {address} {was} -> nothing (" in str(caught.value)


def test_older_pencil_of_a_value_that_was_none_says_so(at: Opener) -> None:
    mira = at("mira")
    mira.document(SEAT).pencil.set("fingers.part.bite", "9")
    mira.document(SEAT).pencil.set(REACH, "612.5")
    with pytest.raises(BelongsTogether) as caught:
        mira.document(SEAT).ink("taught", [REACH])
    assert ": fingers.part.bite nothing -> 9 (" in str(caught.value)


def test_in_a_contest_a_value_that_was_taken_out_is_nothing(at: Opener) -> None:
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.clear("jaws.kept_at")
    ink(ole, SEAT, jaws__kept_at="rack 7")
    with pytest.raises(Conflict) as caught:
        mira.document(SEAT).ink()
    words = "jaws.kept_at: Mira Falk has nothing, inked is rack 7 (changed by Ole Brandt)"
    assert str(caught.value).endswith(words)
    ole.document(SEAT).pencil.clear("tools.T04.what")
    mira.document(SEAT).pencil.rub_out()
    mira.document(SEAT).pencil.set("tools.T04.what", "drill 8")
    ole.document(SEAT).ink()
    with pytest.raises(Conflict) as caught:
        mira.document(SEAT).ink()
    assert "Mira Falk has drill 8, inked is nothing (changed by Ole Brandt)" in str(caught.value)


def test_a_value_that_somebody_took_out_already_is_nothing_in_ink(at: Opener) -> None:
    one, two = at("mira"), at("mira")
    one.document(SEAT).pencil.clear(NOTES)
    one.document(SEAT).ink("not needed")
    with pytest.raises(Refused, match=rf"{NOTES} is nothing in ink, inked .* by you"):
        two.document(SEAT).ink("not needed", [NOTES])


@pytest.mark.parametrize(
    ("values", "words"),
    [(1, "(tools.T1.what)"), (3, "tools.T3.what)"), (4, " and 1 more)"), (6, " and 3 more)")],
)
def test_of_pencil_that_is_in_ink_three_values_are_named_and_the_rest_counted(
    at: Opener, values: int, words: str
) -> None:
    one, two = at("mira"), at("mira")
    one.document(SEAT).pencil.set_all({f"tools.T{n}.what": "drill" for n in range(1, values + 1)})
    one.document(SEAT).ink("")
    with pytest.raises(Refused) as caught:
        two.document(SEAT).ink("")
    assert f"{words} is in ink, inked " in str(caught.value)
    assert ("more" in str(caught.value)) == (values > 3)


# what to do with a reason that was not used


@pytest.mark.parametrize(("name", "reason", "told"), [(SEAT, "worn", True), (SEAT, " ", False),
                                                      ("people", "moved", False)])  # fmt: skip
def test_a_reason_that_was_not_used_can_stand_in_a_records_notes_only(
    at: Opener, name: str, reason: str, told: bool
) -> None:
    address = {SEAT: "lot.quantity", "people": "people.mira.name"}[name]
    one, two = at("ole"), at("ole")
    one.document(name).pencil.set(address, {SEAT: "5", "people": "Mira F."}[name])
    one.document(name).ink("first")
    with pytest.raises(Refused) as caught:
        two.document(name).ink(reason)
    assert caught.value.hint.startswith("Nothing was inked.")
    assert ("write it into notes.text" in caught.value.hint) == told
    assert (f"your reason {reason!r} was not used" in str(caught.value)) == bool(reason.strip())


# where


def test_each_refusal_to_mend_says_in_which_file(at: Opener, folder: Path) -> None:
    whole = (folder / PATH).read_text()
    (folder / PATH).write_text(whole.replace("quantity = 110", "quantity = many"))
    plain_git(folder, "commit", "-qam", "broken by hand")
    mira = at("mira")
    (folder / PATH).write_text(whole)
    with pytest.raises(Refused, match="needs a reason") as caught:
        mira.document(SEAT).ink(" ")
    assert (caught.value.where, bool(caught.value.hint)) == (PATH, True)
    assert mira.document(SEAT).ink("a slip").changes == ()


# git's own lock on its index


def test_gits_index_is_held_until_all_is_done_and_let_go_then(
    at: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A commit by hand in between would take the save back."""
    held: list[bool] = []
    finish = Mender._finish

    def watched(self: Mender, *given: object) -> object:
        held.append((folder / ".git/index.lock").exists())
        return finish(self, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(Mender, "_finish", watched)
    ink(at("mira"), SEAT, lot__quantity="5")
    assert held == [True]
    assert not (folder / ".git/index.lock").exists()


def test_where_the_branch_was_moved_by_another_the_index_is_free_meanwhile(
    at: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No git by hand is held up while the save is planned anew on what came."""
    mira, free = at("mira"), []
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    move, tree = Git.move, Git.tree
    moves: list[str] = []

    def first_no(self: Git, branch: str, commit: str, head: str) -> bool:
        moves.append(commit)
        return len(moves) > 1 and move(self, branch, commit, head)

    def planned(self: Git, commit: str) -> object:
        if len(moves) == 1:
            free.append(not (folder / ".git/index.lock").exists())
        return tree(self, commit)

    monkeypatch.setattr(Git, "move", first_no)
    monkeypatch.setattr(Git, "tree", planned)
    assert mira.document(SEAT).ink().commit == moves[1]
    assert free[0], "while it is planned anew; for the next try the index is taken again"


def test_a_ban_by_a_living_git_is_told_though_no_save_was_left(at: Opener, folder: Path) -> None:
    """A lock on the branch stops the save, whether or not there was anything to mend."""
    (folder / ".git/refs/heads/main.lock").write_bytes(b"")
    mira = at("mira")
    with pytest.raises(Refused, match="another git has a lock on the book's branch") as caught:
        ink(mira, SEAT, lot__quantity="5")
    assert "your pencil is kept" in caught.value.hint
    (folder / ".git/refs/heads/main.lock").unlink()
    assert mira.document(SEAT).ink().commit
    assert BUSH in {item.record for item in mira.list_records(findings=False)}


# what is taken in, and what is put into the notes


def test_nothing_is_merged_in_from_a_newer_program(at: Opener, folder: Path) -> None:
    mira = at("mira")
    plain_git(folder, "switch", "-qc", "side")
    edit(folder, "book.toml", "format = 1", "format = 9")
    plain_git(folder, "commit", "-qam", "a later program wrote this")
    newer = plain_git(folder, "rev-parse", "HEAD").strip()
    plain_git(folder, "switch", "-q", "main")
    session = session_of(mira)
    for odd in ({"parents": (newer,)}, {"ready": newer}):
        plan = CommitPlan("merge", [], {}, seal(session.identity, session.clock()), {}, **odd)
        with pytest.raises(Refused, match=r"a newer program wrote book\.toml: it has format 9"):
            session.inker.commit(lambda _, plan=plan: (plan, None))
    assert plain_git(folder, "rev-parse", "HEAD").strip() == mira.head


def test_comments_of_a_hand_edit_are_something_to_ink_unless_something_else_was_named(
    at: Opener, folder: Path
) -> None:
    edit(folder, PATH, "bite = 7.5", "bite = 7.5 # bored on Monday")
    plain_git(folder, "commit", "-qam", "by hand")
    mira = at("mira")
    with pytest.raises(Refused, match="nothing to ink"):
        mira.document(SEAT).ink("", ["lot.quantity"])
    done = mira.document(SEAT).ink("")
    assert "now in the notes: 1 comment of the hand-edited file" in done.messages
    assert "bored on Monday" in str(mira.document(SEAT).values()[NOTES])


# what the disk and git say, in their own words


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(28, "No space left on device"), "No space left on device"),
        (OSError("odd"), "odd"),
        (BookError("the object is gone"), "the object is gone"),
    ],
)
def test_why_a_file_could_not_be_written_is_said_with_the_save(
    at: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, words: str
) -> None:
    def refuse(*_: object) -> None:
        raise error

    monkeypatch.setattr("engine.book.mending.write_file", refuse)
    done = ink(at("mira"), SEAT, lot__quantity="5")
    assert any(f" {PATH} ({PATH}: {words}); " in said for said in done.messages)
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    monkeypatch.undo()
    assert at("ole").document(SEAT).values()["lot.quantity"] == 5
    assert "quantity = 5\n" in (folder / PATH).read_text()


def test_what_git_says_of_something_else_is_not_taken_for_a_lack_of_rights(
    at: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> bool:
        raise BookError("git: the object database is odd")

    monkeypatch.setattr(Git, "move", refuse)
    with pytest.raises(BookError, match="the object database is odd"):
        ink(at("mira"), SEAT, lot__quantity="5")


def test_a_program_goes_along_with_a_record_that_was_mended(at: Opener, folder: Path) -> None:
    whole = (folder / PATH).read_text()
    (folder / PATH).write_text(whole.replace("quantity = 110", "quantity = many"))
    plain_git(folder, "commit", "-qam", "broken by hand")
    (folder / PATH).write_text(whole)
    (folder / "programs/seat.nc").write_text("O0\nG0 X7\nM30\n")
    at("mira").document(SEAT).ink("a slip")
    assert plain_git(folder, "show", "HEAD:programs/seat.nc") == "O0\nG0 X7\nM30\n"


def test_a_right_that_was_taken_away_just_before_the_save_is_one_no_more(
    at: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ole leads when he says it, and only sets when the save is planned."""
    ole = at("ole")
    ole.document("cells/lathe").pencil.set("axes.lift.speed", "500")
    ole.document(SEAT).pencil.set("lot.quantity", "5")
    real = Inker._stop_at_locks

    def meanwhile(self: Inker, mended: Mended) -> None:
        edit(folder, "people.toml", '    "lead",\n', "")
        plain_git(folder, "commit", "-qam", "Ole leads no more")
        monkeypatch.undo()
        real(self, mended)

    monkeypatch.setattr(Inker, "_stop_at_locks", meanwhile)
    with pytest.raises(Refused, match="no lead and cannot ink cells/lathe"):
        ole.document("cells/lathe").ink("slower")
    assert plain_git(folder, "log", "-1", "--format=%s").strip() == "Ole leads no more"
    assert ole.document(SEAT).ink().commit, "what a setter may he may still"
