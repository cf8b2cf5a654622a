"""What rules look at: the book's head, and beside it the files on disk and the pencil.

Values are those of the head. A view is made for one check and thrown away, so
what it keeps (a file's state, a document's life) is of one moment. A document
that cannot be read has a view too, without values: it hides nothing of others.

Invariant: whatever a view of a document hands out that does not follow from its text is
noted as leaned on (`engine.book.leaning`), since what rules say of it is kept. A rule
about one document asks its view for all; only rules about the book see the `BookView`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from engine.book.leaning import Leans
from engine.book.pencil_rules import why_not
from engine.book.pencilling import live, live_marks
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.checks.linked import Linked, look_at
from engine.checks.rule import GATHERED, Gathered
from engine.drafts import by_hand
from engine.drafts.by_hand import Found
from engine.drafts.conflicts import contested
from engine.drafts.marks import PencilMark
from engine.drafts.pencil import Pencil, journals
from engine.log.past import DocumentChange
from engine.people.saves import Doubt, doubts
from engine.views import Who
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.document import Document, kind_of
from schemas.errors import Problem, ReadError
from schemas.lines import TextLayout, lay_out
from schemas.people import People
from schemas.record import Record
from schemas.units import unit_of
from schemas.upgrade import present

T = TypeVar("T")
BOOK, CELLS = "book.toml", "cells"
_LAYOUTS: LruCache[TextLayout] = LruCache(64)
_UNWRITTEN = 200  # documents whose parts are kept in memory only


@dataclass(frozen=True, slots=True)
class PencilSeen:
    """Somebody's pencil on a document; `against` says who inked the same thing meanwhile."""

    held: Held
    person: str
    marks: tuple[PencilMark, ...]
    against: dict[str, Who]


class DocumentView:
    """One document of the head. `document` is None where its text cannot be used."""

    def __init__(
        self, book: BookView, held: Held, document: Document | None, problems: list[Problem]
    ) -> None:
        self._book = book
        self.session = book.session
        self.held = held
        self.name = held.name
        self.document = document
        self.problems = problems
        self._memo: dict[str, Any] = {}

    def leans_on(self, kind: str, name: str = "") -> None:
        """Note a source that is about to be looked at beside the view."""
        self._book.leans.on(kind, name)

    def leans_on_nothing(self) -> None:
        """What is being worked out is not to be kept: it went wrong."""
        self._book.leans.doubt()

    def once(self, what: str, work: Callable[[], T]) -> T:
        """What several rules need of this document, worked out once; it leans on nothing else
        than what is asked for in `work` each time, or noted beside the call."""
        if what not in self._memo:
            self._memo[what] = work()
        found: T = self._memo[what]
        return found

    @cached_property
    def inked(self) -> bytes:
        """The text at the head."""
        return self.session.git.blob(self.held.blob)

    @property
    def found(self) -> Found | None:
        """The file on disk, where it is not as inked."""
        self.leans_on("disk", self.held.path)
        return self.once("found", lambda: look(self.session.folder, self.held.path, self.inked))

    @property
    def life(self) -> list[DocumentChange]:
        """Every change of the document, oldest first."""
        self.leans_on("life", self.held.key)
        return self.once("life", lambda: self.session.past.life(self.held.key))

    @property
    def file(self) -> BookFile | None:
        """The book's own file, None where it cannot be read."""
        self.leans_on("ink", BOOK)
        return self._book.file

    def inked_at(self, path: str) -> str:
        """The text of a file at the head, as a blob; empty where there is none."""
        self.leans_on("ink", path)
        return self.session.entries.get(path, "")

    def line_of(self, address: str) -> int:
        """The line of an address in the file on disk; 0 where that is not the inked text."""
        if not address or self.found is not None:
            return 0
        layout = _LAYOUTS.get(self.held.blob, lambda: layout_of(self.inked, self.held.path))
        return layout.line_of(address)


class RecordView(DocumentView):
    """A record that could be read, with its cell (None: unknown, or cannot be read)."""

    document: Document

    def __init__(self, book: BookView, held: Held, document: Document, model: Record) -> None:
        super().__init__(book, held, document, [])
        self.model = model

    @property
    def cell(self) -> Cell | None:
        """The cell that it runs on."""
        name = self.model.record.cell
        self.leans_on("ink", f"{CELLS}/{name}.toml")
        return self.once("cell", lambda: self.session.cell(name))

    def cells(self) -> dict[str, Cell | None]:
        """All cells of the book by name; None for one that cannot be read."""
        self.leans_on("folder", CELLS)
        return self._book.all_cells

    @property
    def retired(self) -> bool:
        """Whether it is out of the list."""
        return bool(self.model.record.retired)

    def unit(self, address: str) -> str:
        """The unit of one of its values."""
        return unit_of(self.model, address, self.cell)

    @property
    def program(self) -> Linked | None:
        """Its program as it lies on disk, None where it links to none."""
        path = self.model.program.file
        return self.linked("program.file", path) if path else None

    def photos(self) -> Iterator[tuple[str, Linked]]:
        """Its photos as they lie on disk, by their name in the record."""
        for name, photo in self.model.photos.items():
            yield name, self.linked(f"photos.{name}.file", photo.file)

    def linked(self, address: str, path: str) -> Linked:
        """A linked file as it lies on disk."""
        for kind, name in (("ink", BOOK), ("ink", path), ("disk", path)):
            self.leans_on(kind, name)
        return self._book.linked(address, path)


class CellView(DocumentView):
    """A cell that could be read."""

    document: Document

    def __init__(self, book: BookView, held: Held, document: Document, model: Cell) -> None:
        super().__init__(book, held, document, [])
        self.model = model


class BookView:
    """The whole book at one moment."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.now: datetime = session.clock()
        self.today: date = self.now.date()
        self.sources = session.sources
        self.sources.look_again()
        self.leans = Leans(self.sources)
        self._sure: set[tuple[str, str]] = set()  # parts that were found to hold
        self._linked: dict[tuple[bool, str], Linked] = {}
        self._last: DocumentView | None = None  # the next question is of the same one, mostly

    def view_of(self, held: Held) -> DocumentView:
        """What rules see of a document."""
        if self._last is None or self._last.held != held:
            self._last = self._look_at(held)
        return self._last

    def _look_at(self, held: Held) -> DocumentView:
        try:
            document = held.read()
        except ReadError as error:
            return DocumentView(self, held, None, error.problems)
        if isinstance(document.model, Record):
            return RecordView(self, held, document, document.model)
        if isinstance(document.model, Cell):
            return CellView(self, held, document, document.model)
        return DocumentView(self, held, document, [])

    # parts: what is worked out of one document, and kept

    def part(self, held: Held, name: str, look: Callable[[DocumentView], object]) -> Any:
        """Plain values that follow from a document: kept ones, where all they lean on is as it was.

        A fault in `look` is the caller's to tell; nothing is kept then.
        """
        of, kept = held.whose, self.session.kept
        if self.is_known(held, name):
            return kept.says(of, name)
        with self.leans.noting() as leans:
            self.leans.on("ink", held.path)
            says = look(self.view_of(held))
        kept.put(of, name, leans, says)
        if kept.unwritten >= _UNWRITTEN:
            kept.flush()
        return says

    def is_known(self, held: Held, name: str) -> bool:
        """Whether a part is kept and still holds."""
        part = (held.whose, name)
        if part not in self._sure and self.session.kept.get(*part, self.sources.hold) is not None:
            self._sure.add(part)
        return part in self._sure

    def gathered(self, what: Gathered) -> Iterator[tuple[Held, Any]]:
        """What is gathered of each record in use, or of each document, that has something of it."""
        for held in self.session.places(*(("record",) if what.about == "record" else ())):
            value = self._gathered(held, what)
            if value is not None:
                yield held, value

    def gather(self, held: Held) -> None:
        """Have all that is gathered of a document at hand while its text is."""
        for what in GATHERED.values():
            if what.about == "document" or held.is_record:
                self._gathered(held, what)

    def _gathered(self, held: Held, what: Gathered) -> Any:
        def look(view: DocumentView) -> object:
            in_use = isinstance(view, RecordView) and not view.retired
            return what.look(view) if in_use or what.about == "document" else None

        return self.part(held, what.name, look)

    # the book's own files

    @cached_property
    def file(self) -> BookFile | None:
        """The book's own file, None where it cannot be read."""
        model = self._model("book")
        return model if isinstance(model, BookFile) else None

    @cached_property
    def people(self) -> People:
        """Everybody who may act; nobody where people.toml is missing or cannot be read."""
        model = self._model("people")
        return model if isinstance(model, People) else People(format=1)

    @cached_property
    def knows_people(self) -> bool:
        """Whether people.toml is there and can be read."""
        return isinstance(self._model("people"), People)

    def _model(self, name: str) -> object:
        held = self.session.knows(name)
        try:
            return held.read().model if held else None
        except ReadError:
            return None

    @cached_property
    def all_cells(self) -> dict[str, Cell | None]:
        """All cells by name; None for one that cannot be read."""
        names = [held.name.removeprefix(f"{CELLS}/") for held in self.session.places("cell")]
        return {name: self.session.cell(name) for name in names}

    def name_of(self, person: str) -> str:
        """A person's name, or the key where nobody is known by it."""
        known = self.people.people.get(person)
        return known.name if known else person

    def linked(self, address: str, path: str) -> Linked:
        """A linked file as it lies on disk, looked at once in a check."""
        key = (address == "program.file", path)
        if key not in self._linked:
            inked = self.session.entries.get(path, "")
            self._linked[key] = look_at(self.session.folder, self.file, address, path, inked)
        return self._linked[key]

    @cached_property
    def strays(self) -> dict[str, Found]:
        """Records and cells on disk that were never inked, by path."""
        found = {}
        for path in by_hand.strays(self.session.folder, self.session.entries):
            stray = look(self.session.folder, path, None)
            if stray is not None:
                found[path] = stray
        return found

    @cached_property
    def _pencil(self) -> tuple[list[PencilSeen], list[Problem]]:
        by_key = {held.journal: held for held in self.session.places()}
        drafts: list[PencilSeen] = []
        problems: list[Problem] = []
        for pencil in journals(self.session.private):
            held = by_key.get(pencil.document)
            if held is None:
                continue
            marks = live_marks(held, pencil)
            problems += self._problems_of(held, pencil)
            if marks:
                inked = held.values()
                against = contested(self.session.past, held.key, marks, inked, pencil.person)
                drafts.append(PencilSeen(held, pencil.person, tuple(marks), against))
        return drafts, problems

    @cached_property
    def doubts(self) -> list[Doubt]:
        """Saves that were not their person's to make."""
        session = self.session
        cells = [held.key for held in session.places("cell")]
        return session.kept.at_head("doubts", session.head, lambda: doubts(session.past, cells))

    def _problems_of(self, held: Held, pencil: Pencil) -> Iterator[Problem]:
        """What a journal holds that cannot be read, or could not have been typed."""
        file = pencil.journal.path.relative_to(self.session.folder).as_posix()
        who, journal = self.name_of(pencil.person), pencil.journal
        hint = "Something else wrote to this journal; keep a copy of it and ask who."
        if journal.trouble:
            what = f"the pencil of {who} cannot be read: {journal.trouble}"
            yield Problem(file, 0, held.name, what, hint)
        elif journal.passed_over:
            what = f"{journal.passed_over} entries of the pencil of {who} cannot be read"
            yield Problem(file, 0, held.name, what, hint)
        for mark in live(pencil.state(), held.values()):
            why = why_not(held, pencil.person, mark)
            if why:
                what = f"{mark.address} in the pencil of {who} is not accepted: {why}"
                yield Problem(file, 0, held.name, what, f"It is never inked. {hint}")

    @property
    def drafts(self) -> list[PencilSeen]:
        """Everybody's pencil that differs from what is inked."""
        return self._pencil[0]

    @property
    def damaged_pencil(self) -> list[Problem]:
        """Journals with entries that make no sense; `address` is the document's name."""
        return self._pencil[1]


def look(folder: Path, path: str, inked: bytes | None) -> Found | None:
    """A document's file on disk where it is not as inked; a folder in its place is a problem."""
    try:
        return by_hand.look(folder, path, inked)
    except OSError as error:
        what = f"{path} cannot be read: {error.strerror}"
        return Found(path, None, None, (Problem(path, 0, "", what, "Put the file back."),))


def layout_of(data: bytes, path: str) -> TextLayout:
    """The lines of a text that was read once, however it is encoded, by present addresses."""
    layout = lay_out(data.decode("utf-8-sig", "replace"))
    kind = kind_of(path) or ""
    layout.lines = {present(kind, address): line for address, line in layout.lines.items()}
    return layout
