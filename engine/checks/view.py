"""What rules look at: the book's head, and beside it the files on disk and the pencil.

Values are those of the head. A view is made for one check and thrown away, so
what it keeps (a file's state, a document's life) is of one moment. A document
that cannot be read has a view too, without values: it hides nothing of others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from pathlib import Path

from engine.book.pencil_rules import why_not
from engine.book.pencilling import live, live_marks
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.checks.linked import Linked, look_at
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

_LAYOUTS: LruCache[TextLayout] = LruCache(512)


@dataclass(frozen=True, slots=True)
class PencilSeen:
    """Somebody's pencil on a document; `against` says who inked the same thing meanwhile."""

    view: DocumentView
    person: str
    marks: tuple[PencilMark, ...]
    against: dict[str, Who]


class DocumentView:
    """One document of the head. `document` is None where its text cannot be used."""

    def __init__(
        self, book: BookView, held: Held, document: Document | None, problems: list[Problem]
    ) -> None:
        self.book = book
        self.session = book.session
        self.held = held
        self.name = held.name
        self.document = document
        self.problems = problems

    @cached_property
    def inked(self) -> bytes:
        """The text at the head."""
        return self.session.git.blob(self.held.blob)

    @cached_property
    def found(self) -> Found | None:
        """The file on disk, where it is not as inked."""
        return look(self.session.folder, self.held.path, self.inked)

    @cached_property
    def life(self) -> list[DocumentChange]:
        """Every change of the document, oldest first."""
        return self.session.past.life(self.held.key)

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

    @cached_property
    def cell(self) -> Cell | None:
        """The cell that it runs on."""
        view = self.book.cells.get(f"cells/{self.model.record.cell}")
        return view.model if view else None

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
        return self.book.linked("program.file", path) if path else None

    def photos(self) -> Iterator[tuple[str, Linked]]:
        """Its photos as they lie on disk, by their name in the record."""
        for name, photo in self.model.photos.items():
            yield name, self.book.linked(f"photos.{name}.file", photo.file)


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
        self.documents: dict[str, DocumentView] = {}
        self.records: dict[str, RecordView] = {}
        self.cells: dict[str, CellView] = {}
        self._linked: dict[tuple[bool, str], Linked] = {}
        for held in session.places():
            self._take_in(held)

    def _take_in(self, held: Held) -> None:
        try:
            document = held.read()
        except ReadError as error:
            self.documents[held.name] = DocumentView(self, held, None, error.problems)
            return
        view = DocumentView(self, held, document, [])
        if isinstance(document.model, Record):
            view = self.records[held.name] = RecordView(self, held, document, document.model)
        elif isinstance(document.model, Cell):
            view = self.cells[held.name] = CellView(self, held, document, document.model)
        self.documents[held.name] = view

    def in_use(self) -> list[RecordView]:
        """Records that can be read and are not retired."""
        return [view for view in self.records.values() if not view.retired]

    @cached_property
    def file(self) -> BookFile | None:
        """The book's own file, None where it cannot be read."""
        view = self.documents.get("book")
        model = view.document.model if view and view.document else None
        return model if isinstance(model, BookFile) else None

    @cached_property
    def people(self) -> People:
        """Everybody who may act; nobody where people.toml is missing or cannot be read."""
        view = self.documents.get("people")
        model = view.document.model if view and view.document else None
        return model if isinstance(model, People) else People(format=1)

    @cached_property
    def knows_people(self) -> bool:
        """Whether people.toml is there and can be read."""
        view = self.documents.get("people")
        return view is not None and view.document is not None

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
        by_key = {view.held.journal: view for view in self.documents.values()}
        drafts: list[PencilSeen] = []
        problems: list[Problem] = []
        for pencil in journals(self.session.private):
            view = by_key.get(pencil.document)
            if view is None:
                continue
            marks = live_marks(view.held, pencil)
            problems += self._problems_of(view, pencil)
            if marks:
                inked = view.held.values()
                against = contested(self.session.past, view.held.key, marks, inked, pencil.person)
                drafts.append(PencilSeen(view, pencil.person, tuple(marks), against))
        return drafts, problems

    @cached_property
    def doubts(self) -> list[Doubt]:
        """Saves that were not their person's to make."""
        cells = [held.key for held in self.session.places("cell")]
        return doubts(self.session.past, cells)

    def _problems_of(self, view: DocumentView, pencil: Pencil) -> Iterator[Problem]:
        """What a journal holds that cannot be read, or could not have been typed."""
        file = pencil.journal.path.relative_to(self.session.folder).as_posix()
        who, journal = self.name_of(pencil.person), pencil.journal
        hint = "Something else wrote to this journal; keep a copy of it and ask who."
        if journal.trouble:
            what = f"the pencil of {who} cannot be read: {journal.trouble}"
            yield Problem(file, 0, view.name, what, hint)
        elif journal.passed_over:
            what = f"{journal.passed_over} entries of the pencil of {who} cannot be read"
            yield Problem(file, 0, view.name, what, hint)
        for mark in live(pencil.state(), view.held.values()):
            why = why_not(view.held, pencil.person, mark)
            if why:
                what = f"{mark.address} in the pencil of {who} is not accepted: {why}"
                yield Problem(file, 0, view.name, what, f"It is never inked. {hint}")

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
