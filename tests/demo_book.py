"""The demo jobs as a book under git: fresh from the box, or with a short past of two people.

What a record says is the demo's own; only what happens to it afterwards is made here.
"""

from __future__ import annotations

import functools
import shutil
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from engine.book import Book
from engine.figures.inputs import Facts
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.document import read_document
from schemas.record import Record
from tests.shop_floor import Clock, Opener, Stepping, edit, ink

DEMO = Path(__file__).parents[1] / "demo_jobs"
NOON = datetime.fromisoformat("2026-03-09T12:00:00+01:00")
LEAD, SETTER = "itob", "mosk"
CARRIER, RING, FOOT = "terminal-carrier-op10", "wear-ring-op20", "bearing-foot-op10"
SEAT = RECORD = "seal-carrier-op20"


def begun(folder: Path, clock: Clock) -> Book:
    """A copy of the demo jobs, started as a book by its lead."""
    shutil.copytree(DEMO, folder)
    return Book.start(folder, login=LEAD, clock=clock)


def demo_facts(name: str) -> Facts:
    """What the figures of a demo job follow from, without git."""

    def model(path: str) -> object:
        return read_document((DEMO / path).read_bytes(), path).model

    record, book = model(f"records/{name}.toml"), model("book.toml")
    assert isinstance(record, Record)
    assert isinstance(book, BookFile)
    cell = model(f"cells/{record.record.cell}.toml")
    assert isinstance(cell, Cell)
    return Facts(record, cell, book.policy)


class Desk:
    """The demo book, opened by whoever is asked for; a clock that goes on by a minute a look."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.clock = Stepping(NOON)
        self.lead = begun(folder, self.clock)
        self.people = Opener(folder, self.clock)

    def by(self, login: str) -> Book:
        """The book with a person in front of it."""
        return self.people(login)

    def ink(self, name: str, reason: str = "measured anew", **values: str) -> tuple[str, ...]:
        """Ink values, `jaws__bite="7.0"`; the messages."""
        return ink(self.lead, name, reason, **values).messages

    def replace(self, path: str, old: str, new: str) -> None:
        """Change a file's text on disk."""
        edit(self.folder, path, old, new)

    def close(self) -> None:
        """Everybody leaves."""
        self.lead.close()
        self.people.close()


def started(folder: Path, clock: Clock) -> Path:
    """The demo book under git, with inks, a run and a sign-off by two people; it is noon then."""
    shutil.copytree(Path(_pattern().name) / "book", folder)
    clock.at = NOON
    return folder


@functools.cache
def _pattern() -> tempfile.TemporaryDirectory[str]:
    """That book, made once for a process; it goes away with it."""
    scratch = tempfile.TemporaryDirectory()
    _play(Path(scratch.name) / "book", Clock(NOON - timedelta(days=20)))
    return scratch


def _play(folder: Path, clock: Clock) -> None:
    lead = begun(folder, clock)
    clock.go(days=2)
    _ink(lead, "positions.seat.reach", "688.130", "taught anew after the jaws were bored")
    clock.go(hours=1)
    lead.document(RECORD).sign_off()
    clock.go(days=1)
    lead.document(RECORD).runs.start(110)
    lead.document(RECORD).runs.confirm()
    clock.go(hours=7)
    lead.document(RECORD).runs.stop(108, 2)
    lead.close()
    setter = Book.open(folder, login=SETTER, clock=clock)
    clock.go(days=10)
    _ink(setter, "positions.seat.lift", "303.640", "seat was pressed too hard")
    clock.go(days=2)
    _ink(setter, "jaws.clamp_pressure", "16", "part crept in the groove")
    setter.close()


def _ink(book: Book, address: str, text: str, reason: str) -> None:
    if str(book.document(RECORD).values().get(address)) == text:
        book.document(RECORD).pencil.set(address, "688.200")
        book.document(RECORD).ink("first taught")
    book.document(RECORD).pencil.set(address, text)
    book.document(RECORD).ink(reason)
