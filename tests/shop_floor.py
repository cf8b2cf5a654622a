"""What every test of a book has at hand: a clock, people who open the book, plain git.

Nothing here knows what a book holds; no moment is that of the day.
"""

from __future__ import annotations

import os
import pwd
import subprocess
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from engine.book import Book
from engine.views import Inked

START = datetime.fromisoformat("2026-03-02T06:00:00+01:00")
MINUTE = timedelta(minutes=1)
HAND_EDIT = datetime.fromisoformat("2026-03-03T10:00:00+01:00")


class Clock:
    """A clock that a test moves by hand; with a step it goes on by that at every look, too."""

    def __init__(self, at: datetime = START, step: timedelta = timedelta()) -> None:
        self.at = at
        self.step = step

    def __call__(self) -> datetime:
        self.at += self.step
        return self.at

    def go(self, **span: float) -> None:
        """Let time pass."""
        self.at += timedelta(**span)


class Stepping(Clock):
    """A clock that goes on by a minute at every look."""

    def __init__(self, at: datetime = START, step: timedelta = MINUTE) -> None:
        super().__init__(at, step)


def log_in(patch: pytest.MonkeyPatch, login: str) -> None:
    """Let this process have an account of that name, as the kernel and the machine's list say."""
    entry = pwd.struct_passwd((login, "x", os.getuid(), os.getgid(), "", "/", "/bin/sh"))
    known = pwd.getpwuid

    def named(number: int) -> pwd.struct_passwd:
        return entry if number == os.getuid() else known(number)

    patch.setattr(pwd, "getpwuid", named)


def logged_in(login: str) -> str:
    """The same for another process: what its Python runs first. No single quote stands in it."""
    return (
        "import os, pwd; pwd.getpwuid = lambda number: pwd.struct_passwd("
        f'("{login}", "x", number, os.getgid(), "", "/", "/bin/sh"))'
    )


class Opener:
    """`at("mira")`: a book with a person in front of it; one clock for all who open it."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.folder = folder
        self.clock = clock
        self.opened: list[Book] = []

    def __call__(self, person: str, where: Path | None = None) -> Book:
        """The book, or another one, opened anew by whoever has that login."""
        book = Book.open(where or self.folder, login=person, clock=self.clock)
        self.opened.append(book)
        return book

    def close(self) -> None:
        """Close whatever was opened."""
        for book in self.opened:
            book.close()


def ink(book: Book, name: str, reason: str = "as measured", **values: str) -> Inked:
    """Pencil some values of a document and ink them: `ink(book, SEAT, jaws__bite="8")`."""
    typed = {address.replace("__", "."): text for address, text in values.items()}
    book.document(name).pencil.set_all(typed)
    return book.document(name).ink(reason)


def edit(folder: Path, path: str, old: str, new: str) -> None:
    """Change a file's text on disk, behind the program's back; it must have said `old`."""
    text = (folder / path).read_text()
    assert old in text
    (folder / path).write_text(text.replace(old, new))


def plain_git(
    folder: Path,
    *words: str,
    data: bytes | None = None,
    fails: bool = False,
    when: datetime = HAND_EDIT,
) -> str:
    """The git that anybody has, with a neutral configuration; its standard output."""
    done = subprocess.run(
        ["git", "-c", "user.name=By Hand", "-c", "user.email=hand@shop", "-c", "gc.auto=0", *words],
        cwd=folder,
        input=data,
        capture_output=True,
        check=False,
        env={
            "PATH": "/usr/bin:/bin:/usr/local/bin",
            "HOME": str(folder),
            "LC_ALL": "C",
            "GIT_CONFIG_NOSYSTEM": "1",
            "GIT_CONFIG_GLOBAL": "/dev/null",
            "GIT_AUTHOR_DATE": when.isoformat(),
            "GIT_COMMITTER_DATE": when.isoformat(),
        },
    )
    assert fails or done.returncode == 0, done.stderr.decode()
    return done.stdout.decode("utf-8", "surrogateescape")
