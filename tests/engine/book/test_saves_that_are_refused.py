"""Where a save is refused it says where and what to do, nothing is changed, and pencil stays."""

from __future__ import annotations

import json

import pytest

from engine.book import Book, figures, saving
from engine.book.mending import Mender
from engine.book.session import Session
from engine.book.transaction import Inker
from engine.repo.git import Git
from schemas.errors import BookError, Conflict, FoundOnDisk, ReadError, Refused, UsageError
from tests.mini_book import BUSH, SEAT, plain_git
from tests.shop_floor import edit

PATH = f"records/{SEAT}.toml"


def head(folder):
    return plain_git(folder, "rev-parse", "HEAD").strip()


def pencilled(book, name=SEAT, address="lot.quantity", text="50"):
    book.document(name).pencil.set(address, text)
    return book.document(name)


def test_a_branch_that_never_holds_still(at, folder, monkeypatch):
    seat = pencilled(at("mira"))
    monkeypatch.setattr(Git, "move", lambda *_: False)
    with pytest.raises(Conflict) as caught:
        seat.ink()
    assert "Find out what else writes here" in caught.value.hint


def test_a_disk_that_refuses_without_a_name_or_words(at, folder, monkeypatch):
    seat = pencilled(at("mira"))

    def full(*_, **__):
        raise OSError("odd")

    monkeypatch.setattr(Git, "write_blob", full)
    with pytest.raises(BookError, match="the disk refused: odd") as caught:
        seat.ink()
    assert caught.value.where == str(folder)
    assert "your pencil is kept" in caught.value.hint


def test_a_hand_edit_names_the_file_and_both_ways_on(at, folder):
    seat = pencilled(at("mira"))
    edit(folder, PATH, "rack 4", "rack 5")
    with pytest.raises(FoundOnDisk) as caught:
        seat.ink()
    assert caught.value.where == PATH
    for way in (f"`witnessmark pencil {SEAT} --take-from-disk`", "`--put-back`"):
        assert way in caught.value.hint


def test_a_photo_nobody_inked_is_not_written_over_by_a_restored_one(at, folder):
    mira = at("mira")
    photo = folder / "photos/seat-jaws.jpg"
    for n in (b"first", b"second"):
        photo.write_bytes(n)
        mira.document(SEAT).ink()
    photo.write_bytes(b"nobody inked this")
    before = head(folder)
    with pytest.raises(FoundOnDisk) as caught:
        mira.document(SEAT).restore("ink-1", "", "as it ran")
    assert caught.value.where == "photos/seat-jaws.jpg"
    assert "Ink the record that links to it" in caught.value.hint
    assert (photo.read_bytes(), head(folder)) == (b"nobody inked this", before)


def test_a_reason_too_long_says_where_such_words_belong(at):
    with pytest.raises(UsageError) as caught:
        pencilled(at("mira")).ink("r" * 2001)
    assert "notes" in caught.value.hint


def test_a_contest_says_in_which_record(at):
    mira, ole = at("mira"), at("ole")
    seat = pencilled(mira)
    pencilled(ole, text="60").ink()
    with pytest.raises(Conflict) as caught:
        seat.ink()
    assert caught.value.where == SEAT


def test_who_may_not_is_told_before_anything_is_looked_at(at, folder, monkeypatch):
    """Not after the lock was taken, and not only where there would be something to save."""
    ole, mira = at("ole"), at("mira")
    monkeypatch.setattr(saving, "_planned", lambda *_: pytest.fail("planned"))
    monkeypatch.setattr(type(mira._session.inker), "commit", lambda *_: pytest.fail("locked"))
    with pytest.raises(Refused, match="lead"):
        mira.document(SEAT).sign_off("all seen")
    assert ole


def test_what_worsens_a_figure_is_said_with_the_ink(at):
    done = pencilled(at("mira"), address="fingers.blank.force", text="1").ink("a trial")
    assert any("force" in said or "hold" in said for said in done.messages), done.messages


def test_an_ink_without_comments_says_nothing_of_comments(at):
    assert not any("in the notes" in said for said in pencilled(at("mira")).ink().messages)


def test_a_save_without_reason_or_pencil_has_no_such_trailers(at, folder):
    at("mira").document(BUSH).rename("bushing-op20")
    message = plain_git(folder, "log", "-1", "--format=%(trailers:only,unfold)").splitlines()
    assert {line.partition(":")[0] for line in message if line} == {
        "Kind", "Record", "Person", "Login", "Check",
    }  # fmt: skip


# mended on disk


def broken(folder, path=PATH):
    whole = (folder / path).read_text()
    (folder / path).write_text("= " + whole)
    plain_git(folder, "commit", "-qam", "broken by hand")
    return whole


def test_what_was_mended_while_somebody_else_mended_it(at, folder, monkeypatch):
    whole = broken(folder)
    (folder / PATH).write_text(whole)
    mira, meet = at("mira"), Mender.mend

    def another(self):
        done = meet(self)
        if head(folder) == start:
            plain_git(folder, "commit", "-qam", "mended by somebody else")
        return done

    start = head(folder)
    monkeypatch.setattr(Mender, "mend", another)
    with pytest.raises(Refused, match="inked by somebody else meanwhile") as caught:
        mira.document(SEAT).ink("a slip")
    assert caught.value.hint
    monkeypatch.undo()
    assert plain_git(folder, "log", "-1", "--format=%s").strip() == "mended by somebody else"


def test_what_is_still_broken_on_disk_is_told_as_it_stands_there(at, folder):
    broken(folder)
    (folder / PATH).write_text("x = = 3\n")
    with pytest.raises(ReadError, match="Invalid value"):  # not the inked text's fault
        at("mira").document(SEAT).ink("a slip")


def test_a_mended_cell_is_inked_by_a_lead_only(at, folder):
    path = "cells/lathe.toml"
    whole = broken(folder, path)
    (folder / path).write_text(whole)
    with pytest.raises(Refused, match="lead"):
        at("mira").document("cells/lathe").ink("a slip")
    at("ole").document("cells/lathe").ink("a slip")
    assert plain_git(folder, "show", f"HEAD:{path}") == whole
    kind = plain_git(folder, "log", "-1", "--format=%(trailers:key=Kind,valueonly)").strip()
    assert kind == "ink"


# finishing what was left


def test_an_intent_of_an_older_program_is_finished_too(at, folder):
    """The note of format 1 had no pencil that was set aside."""
    mira = at("mira")
    lock = folder / ".git/index.lock"
    lock.write_bytes(b"")
    pencilled(mira).ink()
    lock.unlink()
    note = folder / ".git/witnessmark/intent.json"
    kept = json.loads(note.read_bytes())
    del kept["aside"]
    note.write_text(json.dumps(kept))
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""
    assert not note.exists()


def test_what_git_refuses_after_the_branch_moved_is_left_for_later(at, folder, monkeypatch):
    mira, meet, calls = at("mira"), Mender.mend, []

    def refuses(self):
        calls.append(1)
        if len(calls) == 2:
            raise BookError("git refused")
        return meet(self)

    monkeypatch.setattr(Mender, "mend", refuses)
    done = pencilled(mira).ink()
    monkeypatch.undo()
    assert head(folder) == done.commit
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""


# what is only looked at once a save is one


@pytest.mark.parametrize("error", [BookError("git could not read"), OSError(5, "I/O error")])
def test_what_cannot_be_looked_at_after_a_save_makes_no_no_of_it(at, folder, monkeypatch, error):
    seat = pencilled(at("mira"))

    def refuses(*_):
        raise error

    commit = Inker.commit

    def then_the_disk_is_gone(self, make):
        done = commit(self, make)
        monkeypatch.setattr(Session, "refresh", refuses)
        monkeypatch.setattr(figures, "worse_in_words", refuses)
        return done

    monkeypatch.setattr(Inker, "commit", then_the_disk_is_gone)
    assert seat.ink().commit == head(folder)


def test_what_is_left_after_a_save_and_cannot_be_read_makes_no_no_of_it(at, folder, monkeypatch):
    mira = at("mira")
    seat, meet, calls = pencilled(mira), Mender.mend, []

    def refuses(self):
        calls.append(1)
        if len(calls) > 1:
            raise BookError("git could not read")
        return meet(self)

    monkeypatch.setattr(Mender, "mend", refuses)
    monkeypatch.setattr(Mender, "to_do", refuses)
    done = seat.ink()
    assert done.commit == head(folder)


def test_what_a_start_left_that_was_killed_is_taken_away(tmp_path):
    left = tmp_path / "book/.begun-0a1b2c3d/.git"
    left.mkdir(parents=True)
    (left / "HEAD").write_text("ref: ")
    book = Book.start(tmp_path / "book", login="ole")
    assert not left.parent.exists()
    assert book.head
    book.close()
