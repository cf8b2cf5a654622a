"""What rules about the book look at: its head, and beside it the files on disk and the pencil.

Values are those of the head. It is made for one check and thrown away. What rules say of
one document, and what is gathered of it for rules about the book, are parts: kept ones are
handed out while all that they lean on is as it was, others are worked out and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any

from engine.book.leaning import Leans
from engine.book.pencil_rules import why_not
from engine.book.pencilling import live, live_marks
from engine.book.session import Held, Session
from engine.checks.linked import Linked, look_at
from engine.checks.rule import GATHERED, Gathered
from engine.checks.view import CELLS, CellView, DocumentView, RecordView, look
from engine.drafts import by_hand
from engine.drafts.by_hand import Found
from engine.drafts.conflicts import contested
from engine.drafts.marks import PencilMark
from engine.drafts.pencil import Pencil, journals
from engine.people.saves import Doubt, doubts
from engine.views import Who
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.errors import Problem, ReadError
from schemas.people import People
from schemas.record import Record


@dataclass(frozen=True, slots=True)
class PencilSeen:
    """Somebody's pencil on a document; `against` says who inked the same thing meanwhile."""

    held: Held
    person: str
    marks: tuple[PencilMark, ...]
    against: dict[str, Who]


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
