"""What the disk does not give is never taken for what is not there: no save is begun on it, none
is forgotten."""

from __future__ import annotations

import contextlib
import os

import pytest

from engine.book import Book
from engine.repo import git, journal
from engine.repo.git import Git, Signature
from engine.repo.trees import Trees
from schemas.errors import BookError, Refused, WitnessmarkError
from tests.mini_book import SEAT, START, plain_git, session_of

PATH = f"records/{SEAT}.toml"


def pencilled(book, name=SEAT, address="lot.quantity", text="50"):
    book.document(name).pencil.set(address, text)
    return book.document(name)


@pytest.mark.parametrize("n", range(1, 9))
def test_a_commit_that_cannot_be_read_for_once_is_never_taken_for_empty(at, folder, monkeypatch, n):
    """git says "missing" of what the disk refuses to give; a tree made on that would lack all."""
    mira = at("mira")
    seat, names = pencilled(mira), plain_git(folder, "ls-tree", "-r", "--name-only", "HEAD")
    root_of, calls = Trees.root_of, []

    def for_once(self, commit):
        calls.append(commit)
        return "" if len(calls) == n else root_of(self, commit)

    monkeypatch.setattr(Trees, "root_of", for_once)
    with contextlib.suppress(BookError, Refused):
        seat.ink()
    monkeypatch.undo()
    assert plain_git(folder, "ls-tree", "-r", "--name-only", "HEAD") == names
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""
    assert at("ada").document(SEAT).values()["lot.quantity"] in (50, 110)


class _Stdout:
    """What git answers, but for one object, of which the disk refuses the read for once."""

    def __init__(self, stdout, refuse):
        self._stdout, self._refuse = stdout, refuse

    def __getattr__(self, name):
        return getattr(self._stdout, name)

    def readline(self):
        line = self._stdout.readline()
        oid, kind, size = (*line.split(), b"", b"")[:3]
        if not self._refuse(kind):
            return line
        self._stdout.read(int(size) + 1)
        return oid + b" missing\n"


@pytest.mark.parametrize("n", range(4))
def test_a_save_that_cannot_be_read_for_once_is_not_taken_for_none(at, folder, monkeypatch, n):
    """What it has still to do is done, then or at the next opening; git itself says "missing"."""
    mira = at("mira")
    seat, start, move, seen = pencilled(mira), Git.start, Git.move, []
    armed = []

    def refuse(kind):
        if armed and kind == b"commit":
            seen.append(kind)
        return armed and kind == b"commit" and len(seen) == n + 1

    def started(self, words, *more, **named):
        running = start(self, words, *more, **named)
        if words[0] == "cat-file":
            running.proc.stdout = _Stdout(running.proc.stdout, refuse)
        return running

    def moved(self, *words):
        done = move(self, *words)
        armed.append(done)
        return done

    at("ole").close()
    monkeypatch.setattr(Git, "start", started)
    monkeypatch.setattr(Git, "move", moved)
    session_of(mira).git.close()
    with contextlib.suppress(BookError):
        seat.ink()
    monkeypatch.undo()
    assert "50" in plain_git(folder, "show", f"HEAD:{PATH}")
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""
    assert not (folder / ".git/witnessmark/intent.json").exists()


def test_a_head_that_cannot_be_read_is_told(at, folder, monkeypatch):
    mira = at("mira")
    monkeypatch.setattr(Git, "object", lambda *_: ("", b""))
    with pytest.raises(BookError, match="git could not read HEAD"):
        mira.document(SEAT)


def test_a_disk_that_refuses_the_name_of_the_branch_is_told(folder, monkeypatch):
    def refuses(*_):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(git, "read_plain", refuses)
    with pytest.raises(BookError, match="the disk refused: Input/output error") as caught:
        Book.open(folder, login="mira")
    assert caught.value.where.endswith(".git/HEAD")


def test_pencil_that_cannot_be_read_is_not_taken_for_none(at, folder, monkeypatch):
    """A changed program would be inked without the value that goes with it."""
    seat, head = pencilled(at("mira")), plain_git(folder, "rev-parse", "HEAD")
    (folder / "programs/seat.nc").write_bytes(b"O1\n(anew)\nM30\n")
    with monkeypatch.context() as refusing:
        refusing.setattr(journal, "open_private", _refuses)
        with pytest.raises(BookError, match="your pencil cannot be read: Input/output"):
            seat.ink("both")
    assert plain_git(folder, "rev-parse", "HEAD") == head
    assert {change.address for change in seat.ink("both").changes} == {"lot.quantity"}
    assert "programs/seat.nc" in plain_git(folder, "show", "--name-only", "HEAD")


def test_a_program_that_cannot_be_read_is_not_taken_for_unchanged(at, folder, monkeypatch):
    seat, head, opens = pencilled(at("mira")), plain_git(folder, "rev-parse", "HEAD"), os.open
    (folder / "programs/seat.nc").write_bytes(b"O1\n(anew)\nM30\n")

    def refuses(path, *more, **named):
        if str(path) == "seat.nc":
            _refuses()
        return opens(path, *more, **named)

    with monkeypatch.context() as refusing:
        refusing.setattr(os, "open", refuses)
        with pytest.raises(WitnessmarkError, match=r"programs/seat\.nc cannot be read"):
            seat.ink("both")
    assert plain_git(folder, "rev-parse", "HEAD") == head
    assert seat.ink("both").commit
    assert "programs/seat.nc" in plain_git(folder, "show", "--name-only", "HEAD")


def test_a_file_that_cannot_be_read_once_the_branch_moved_is_brought_up_later(
    at, folder, monkeypatch
):
    seat, opens, move, moved = pencilled(at("mira")), os.open, Git.move, []

    def moves(self, *words):
        moved.append(words)
        return move(self, *words)

    def refuses(path, *more, **named):
        if moved and str(path) == f"{SEAT}.toml":
            _refuses()
        return opens(path, *more, **named)

    with monkeypatch.context() as refusing:
        refusing.setattr(Git, "move", moves)
        refusing.setattr(os, "open", refuses)
        said = seat.ink("both").messages
        assert any(PATH in words for words in said)
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""


def test_what_two_sides_have_in_common_is_never_guessed(folder):
    mine = Git(folder)
    head = mine.head()
    stranger = mine.commit("", {}, "another past", Signature("a", "b", START))
    assert mine.merge_bases(head, stranger) == []
    assert mine.merge_bases(head, head) == [head]
    with pytest.raises(BookError, match="git merge-base failed"):
        mine.merge_bases(head, "f" * 40)
    mine.close()


def _refuses(*_, **__):
    raise OSError(5, "Input/output error")
