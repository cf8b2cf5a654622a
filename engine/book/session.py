"""The book as it stands: the head, its files, and who is at the terminal.

HEAD is the truth. What is cached here is keyed by blob or by commit, so it can
be stale only as a whole, and `refresh` puts that right.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from engine.book.kept_parts import KeptParts
from engine.book.leaning import Sources
from engine.book.transaction import Inker
from engine.log.known_tip import KnownTip
from engine.log.past import Past
from engine.people.identity import again
from engine.repo.git import Git
from engine.repo.trees import Files
from engine.views import Identity, Who
from engine.views.wording import day
from schemas.address import Value
from schemas.book import BookFile
from schemas.canonical import say_the_same
from schemas.cell import Cell
from schemas.document import Document, DocumentKind, kind_of, name_of, path_of
from schemas.errors import Gone, ReadError, UsageError
from schemas.people import People
from schemas.record import Record
from schemas.units import unit_of
from schemas.upgrade import present

Clock = Callable[[], datetime]


class StoredText(Protocol):
    """A text of a document in the repository; without a blob where there was none."""

    @property
    def path(self) -> str:
        """Where it lies."""

    @property
    def blob(self) -> str:
        """The text."""


@dataclass(frozen=True, slots=True)
class Held:
    """A document that a session holds: its name, path, identity, and blob at one head.

    It stays as it is when the head moves; `again` is the same document as it stands then.
    One that is `gone` is not at the head: name, path and blob are its last ones.
    """

    session: Session = field(repr=False)
    name: str
    path: str
    key: str
    blob: str
    gone: bool = False

    @property
    def journal(self) -> str:
        """Its identity as journals of pencil are named by it."""
        return self.key.replace("/", ".")

    @property
    def whose(self) -> str:
        """The name under which what is worked out of it is kept."""
        return f"{self.key} {self.path}"

    @property
    def is_record(self) -> bool:
        """Whether it is a record; all else (cell, people, book) is the leads' to change."""
        return kind_of(self.path) == "record"

    def read(self) -> Document:
        """The document as inked. ReadError where its text cannot be used."""
        return self.session.past.document(self.path, self.blob)

    def values(self) -> dict[str, Value]:
        """Every value as inked, by address; of a text that cannot be used, what is TOML in it."""
        return self.session.past.values(self.path, self.blob) or {}

    def last_values(self) -> dict[str, Value]:
        """Every value as inked; of a text that is no TOML, those of the last one that was."""
        past = self.session.past
        texts = [(self.path, self.blob)]
        if past.values(self.path, self.blob) is None:
            texts = [(step.path, step.new) for step in reversed(past.life(self.key)) if step.new]
        known = (past.values(*text) for text in texts)
        return next((values for values in known if values is not None), {})

    def units(self) -> Callable[[str], str]:
        """Unit by address; none where the inked text cannot be used."""
        return self.session.units_at(self.path, self.blob)

    def present(self, address: str) -> str:
        """An address of this document as it is now, whenever it was written down."""
        return present(kind_of(self.path) or "", address)

    def again(self) -> Held:
        """The same document as it stands at the session's present head, renamed or not."""
        return self.session.same(self)


class Session:
    """One opened book. `identity` may change (a choice at start); nothing else does by itself."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.folder = folder
        self.clock = clock
        self.git = Git(folder)
        self.past = Past(self.git)
        self.known = KnownTip(self.git)
        self.kept = KeptParts(self.past)
        self.inker = Inker(self.git)
        self.private = self.inker.private
        self.identity = Identity("", "", "")
        self.head = ""
        self.entries: Files = self.git.tree("")
        self.sources = Sources(self)
        self._known_places: dict[str, Held] | None = None
        self.pencil_seen: dict[str, tuple[int, int, int]] = {}  # journals at the last look
        self.notices: list[str] = []  # what a person should be told of, and was not yet

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
        self.known.look(head, self.clock)
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
                name = name_of(path)
                found.setdefault(name, Held(self, name, path, key, blob))
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

    def knows(self, name: str) -> Held | None:
        """A document by its name, its path or its record id, if the head has it."""
        wanted = name.removesuffix(".toml").removeprefix("records/")
        return self._places.get(wanted) or self.with_key(name)

    def find(self, name: str) -> Held:
        """A document by its name, its path or its record id. UsageError with the nearest names."""
        held = self.knows(name)
        if held is None:
            wanted = name.removesuffix(".toml").removeprefix("records/")
            near = difflib.get_close_matches(wanted, list(self._places), n=3, cutoff=0.5)
            hint = f"Did you mean {' or '.join(near)}?" if near else "`list` shows what there is."
            raise UsageError(f"the book has no record or document {name!r}", hint=hint)
        return held

    def same(self, held: Held) -> Held:
        """A document as it stands at the present head. Gone where it is not there."""
        written_once = not held.is_record and held.name not in self._places
        if written_once and held.path in self.entries:  # a run, a sign-off, an event
            return replace(held, blob=self.entries[held.path])
        return self.identified(held.name, held.key)

    def identified(self, name: str, key: str) -> Held:
        """The document with an identity, which was called `name` once. Gone where it is not there.

        Whoever is called so now: a name that was given up may stand for another record.
        """
        there = self._places.get(name)
        if there is not None and there.key == key:
            return there  # before others: a file copied by hand may carry its identity too
        found = self.with_key(key)
        if found is None:
            raise self.gone(name, key)
        return found

    def gone(self, name: str, key: str) -> Gone:
        """Who took it out, and what is left of it."""
        life = self.past.life(key)
        if any(held.key == key for held in self._places.values()):
            hint = "Take one of them out, or give it an identity of its own."
            return Gone(f"several files carry the identity of {name} now", hint=hint)
        by = life[-1].saved if life and not life[-1].new else None
        who = f": it was taken out {day(by.when)} by {by.who.name} ({by.id[:10]})" if by else ""
        return Gone(
            f"{name} is not in the book any more{who}",
            hint=f"`witnessmark restore {key} --reason TEXT` brings it back with its past; all "
            "pencil on it is kept. `trace`, `marks`, `diff` and `show --at` tell of it as it is.",
        )

    def stands(self, held: Held) -> bool:
        """Whether a document is at the present head, whatever it is called there."""
        if kind_of(held.path) not in ("record", "cell", "people", "book"):
            return held.path in self.entries
        return any(there.key == held.key for there in self._places.values())

    def with_key(self, key: str) -> Held | None:
        """The one document with an identity; None where there is none or several."""
        same = [held for held in self._places.values() if held.key == key]
        return same[0] if len(same) == 1 else None

    def name_of_key(self, key: str) -> str:
        """The present name of a document by its identity; the identity where it is gone."""
        found = self.with_key(key)
        return found.name if found else key

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

    def read(self, name: str) -> Document:
        """A document as inked, by its name. ReadError where its text cannot be used."""
        return self.find(name).read()

    def book_file(self) -> BookFile:
        """The book's own file."""
        model = self.read("book").model
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
            model = self.read(f"cells/{name}").model
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

    def alike(self, one: StoredText, other: StoredText) -> bool:
        """Whether two texts of a document say the same, however they are written."""
        if one.blob == other.blob or not (one.blob and other.blob):
            return one.blob == other.blob
        values = [self.past.values(each.path, each.blob) for each in (one, other)]
        return None not in values and say_the_same(values[0] or {}, values[1] or {})

    def sha256(self, blob: str | None) -> str | None:
        """The hash of a text's bytes; None where there is none."""
        return hashlib.sha256(self.git.blob(blob)).hexdigest() if blob else None

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
