"""The book as it stands: the head, its files, and who is at the terminal.

HEAD is the truth. What is cached here is keyed by blob or by commit, so it can
be stale only as a whole, and `refresh` puts that right.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from engine.book.transaction import Inker
from engine.log.past import Past
from engine.people.identity import Identity, again
from engine.repo.git import Git
from engine.repo.trees import Files
from engine.views import Who
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.document import Document, DocumentKind, kind_of, name_of, path_of
from schemas.errors import ReadError, UsageError
from schemas.people import People
from schemas.record import Record
from schemas.units import unit_of

Clock = Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class Held:
    """A document's place: its name, path, identity, and blob at the head."""

    name: str
    path: str
    key: str
    blob: str

    @property
    def journal(self) -> str:
        """Its identity as journals of pencil are named by it."""
        return self.key.replace("/", ".")


class Session:
    """One opened book. `identity` may change (a choice at start); nothing else does by itself."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.folder = folder
        self.clock = clock
        self.git = Git(folder)
        self.past = Past(self.git)
        self.inker = Inker(self.git)
        self.private = self.inker.private
        self.identity = Identity("", "", "")
        self.head = ""
        self.entries: Files = self.git.tree("")
        self._known_places: dict[str, Held] | None = None
        self.pencil_sizes: dict[str, int] | None = None  # of the journals, at the last look

    def refresh(self) -> bool:
        """Look at the head again; True where it moved."""
        head = self.git.head()
        if head == self.head:
            return False
        self.move_to(head)
        return True

    def move_to(self, head: str) -> None:
        """Take a head as the present one."""
        if head == self.head:
            return
        self.past.refresh(head)
        self.entries = self.git.tree(head)
        self.head = head
        self._known_places = None
        self._look_at_who()

    @property
    def _places(self) -> dict[str, Held]:
        """Where documents stand at the head, by name; looked up when somebody asks."""
        if self._known_places is None:
            found: dict[str, Held] = {}
            for (path, blob), key in self.past.keys(self._document_files()).items():
                found.setdefault(name_of(path), Held(name_of(path), path, key, blob))
            self._known_places = found
        return self._known_places

    def _document_files(self) -> Iterator[tuple[str, str]]:
        for path in ("book.toml", "people.toml"):
            if path in self.entries:
                yield path, self.entries[path]
        for folder in ("cells", "records"):
            for path, blob in self.entries.under(folder):
                if kind_of(path) in ("record", "cell"):
                    yield path, blob

    def _look_at_who(self) -> None:
        """A person whose rights were changed meanwhile has the new ones from now on."""
        if not self.identity.key:
            return
        self.identity = again(self.people(), self.identity, self.clock().date())

    # finding

    def places(self, *kinds: DocumentKind) -> Iterator[Held]:
        """Documents at the head, of some kinds or all, by name."""
        for name in sorted(self._places):
            held = self._places[name]
            if not kinds or kind_of(held.path) in kinds:
                yield held

    def find(self, name: str) -> Held:
        """A document by its name, its path or its record id. UsageError with the nearest names."""
        wanted = name.removesuffix(".toml").removeprefix("records/")
        held = self._places.get(wanted)
        if held is None:
            same = [place for place in self._places.values() if place.key == name]
            held = same[0] if len(same) == 1 else None
        if held is None:
            near = difflib.get_close_matches(wanted, list(self._places), n=3, cutoff=0.5)
            hint = f"Did you mean {' or '.join(near)}?" if near else "`list` shows what there is."
            raise UsageError(f"the book has no record or document {name!r}", hint=hint)
        return held

    def again(self, held: Held) -> Held:
        """The same document as it stands now, renamed or not."""
        return self.find(held.key if kind_of(held.path) == "record" else held.name)

    def name_of_key(self, key: str) -> str:
        """The present name of a document by its identity; the identity where it is gone."""
        return next((h.name for h in self._places.values() if h.key == key), key)

    def free_path(self, name: str) -> str:
        """The path of a record that does not exist yet. UsageError where the name is taken."""
        try:
            path = path_of(name)
        except ValueError as error:
            raise UsageError(f"{name!r} cannot name a record: {error}") from None
        if kind_of(path) != "record":
            raise UsageError(f"{name!r} cannot name a record", hint="Choose another name.")
        taken = {place.path.lower() for place in self._places.values()}
        if path.lower() in taken or (self.folder / path).exists():
            raise UsageError(f"there is already a {name!r}", hint="Choose another name.")
        return path

    # reading

    def document(self, name: str) -> Document:
        """A document as inked. ReadError where its text cannot be used."""
        held = self.find(name)
        return self.past.document(held.path, held.blob)

    def book_file(self) -> BookFile:
        """The book's own file."""
        model = self.document("book").model
        assert isinstance(model, BookFile)
        return model

    def people(self) -> People:
        """Everybody who may act; nobody where the book has no people.toml.

        While its text is broken the last one that could be read counts (a finding
        says so): otherwise nobody could mend it, and one bad file would close the book.
        """
        for blob in self._texts_of_people():
            try:
                model = self.past.document("people.toml", blob).model if blob else None
            except ReadError:
                continue
            if isinstance(model, People):
                return model
        return People(format=1)

    def _texts_of_people(self) -> Iterator[str]:
        """What stands at the head, then what stood before: history is asked only then."""
        if "people.toml" in self.entries:
            yield self.entries["people.toml"]
        yield from (step.new for step in reversed(self.past.life("people")))

    def cell(self, name: str) -> Cell | None:
        """A cell by its name, or None where it is unknown or cannot be read."""
        try:
            model = self.document(f"cells/{name}").model
        except (UsageError, ReadError):
            return None
        return model if isinstance(model, Cell) else None

    def cell_of(self, document: Document) -> Cell | None:
        """The cell that a record runs on; a cell itself for a cell."""
        model = document.model
        if isinstance(model, Record):
            return self.cell(model.record.cell)
        return model if isinstance(model, Cell) else None

    def units(self, document: Document) -> Callable[[str], str]:
        """Unit by address, for one document and its cell."""
        cell = self.cell_of(document)
        return lambda address: unit_of(document.model, address, cell)

    def units_at(self, path: str, blob: str) -> Callable[[str], str]:
        """Unit by address in a text; none where that text cannot be used."""
        try:
            return self.units(self.past.document(path, blob))
        except ReadError:
            return lambda _: ""

    def person(self, key: str) -> Who:
        """A person by key, with the name that the book gives them now."""
        known = self.people().people.get(key)
        return Who(key, known.name if known else key)
