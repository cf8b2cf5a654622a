"""What rules see of one document: its text at the head, and what it leads to.

Values are those of the head. A view is made for one check and thrown away, so
what it keeps (a file's state, a document's life) is of one moment. A document
that cannot be read has a view too, without values: it hides nothing of others.

Invariant: whatever a view hands out that does not follow from its text is noted as
leaned on (`engine.book.leaning`), since what rules say of it is kept. So a rule about one
document asks its view for all; only rules about the book see the `BookView`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol, TypeVar

from engine.book.leaning import Leans
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.checks.linked import Linked
from engine.drafts import by_hand
from engine.drafts.by_hand import Found
from engine.log.past import DocumentChange
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.document import Document, kind_of
from schemas.errors import Problem
from schemas.lines import TextLayout, lay_out
from schemas.record import Record
from schemas.units import unit_of
from schemas.upgrade import present

T = TypeVar("T")
BOOK, CELLS = "book.toml", "cells"
_LAYOUTS: LruCache[TextLayout] = LruCache(64)


class Around(Protocol):
    """What lies around a document: the book, as views may ask it."""

    session: Session
    leans: Leans

    @property
    def file(self) -> BookFile | None:
        """The book's own file, None where it cannot be read."""

    @property
    def all_cells(self) -> dict[str, Cell | None]:
        """All cells by name; None for one that cannot be read."""

    def linked(self, address: str, path: str) -> Linked:
        """A linked file as it lies on disk."""


class DocumentView:
    """One document of the head. `document` is None where its text cannot be used."""

    def __init__(
        self, book: Around, held: Held, document: Document | None, problems: list[Problem]
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

    def __init__(self, book: Around, held: Held, document: Document, model: Record) -> None:
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

    def __init__(self, book: Around, held: Held, document: Document, model: Cell) -> None:
        super().__init__(book, held, document, [])
        self.model = model


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
