"""What a sign-off covers, and whether it still does.

Covered are the values of the record, of its cell and of the policy, and the bytes of the
program and the photos. Comments, spelling and the format of a file are no values: neither
voids a sign-off, nor does a field that a later format brings, until it is filled in.

The stored hashes count where they were made in the present formats of the schema. Of any
other the values are compared with those of the revision that the sign-off names, which
history keeps. Sign-offs of format 1 hold hashes of whole texts: they must be those of that
revision, else the sign-off was void from the beginning, and stays so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from engine.book.revisions import Revisions
from engine.book.session import Held, Session
from schemas.address import Tree, Value
from schemas.canonical import hash_of_values, say_the_same
from schemas.document import FORMATS, Document, DocumentKind
from schemas.errors import ReadError
from schemas.log import Accepted, SignOff
from schemas.record import Record

PARTS: dict[str, DocumentKind] = {
    "record": "record",
    "cell": "cell",
    "policy": "book",
}  # by their values


@dataclass(frozen=True)
class Covered:
    """Everything that a sign-off covers, as it stood at one commit."""

    session: Session
    entries: Mapping[str, str]
    document: Document

    @property
    def _record(self) -> Record:
        assert isinstance(self.document.model, Record)
        return self.document.model

    def path(self, part: str) -> str:
        """Where a part lies."""
        cell = f"cells/{self._record.record.cell}.toml"
        return {"record": self.document.path, "cell": cell, "policy": "book.toml"}[part]

    def values(self, part: str) -> dict[str, Value] | None:
        """The values of a part; None where it is not there, or no TOML at all."""
        path = self.path(part)
        blob = self.entries.get(path, "")
        return self.session.past.values(path, blob) if blob else None

    def texts(self) -> Tree:
        """Hashes of the whole texts of the parts."""
        return _there({part: self._hash(self.path(part)) for part in PARTS})

    def parts(self) -> Tree:
        """Hashes of the values of the parts; of the text where that is no TOML at all."""
        found: Tree = self.texts()
        for part in found:
            values = self.values(part)
            found[part] = found[part] if values is None else hash_of_values(values)
        return found

    def files(self) -> Tree:
        """Hashes of the bytes of the program and of the photos, by name."""
        program = self._record.program.file
        photos = {name: self._hash(photo.file) for name, photo in self._record.photos.items()}
        found = {"program": self._hash(program) if program else None, "photos": _there(photos)}
        return _there(found)

    def _hash(self, path: str) -> str | None:
        return self.session.sha256(self.entries.get(path))


def _there(found: Mapping[str, Any]) -> Tree:
    return {name: each for name, each in found.items() if each is not None}


def accepted_now(session: Session, document: Document) -> Tree:
    """The table `accepted` of a sign-off of what is inked now."""
    now = Covered(session, session.entries, document)
    parts = now.parts()
    formats = {part: FORMATS[PARTS[part]] for part in parts}
    return {**parts, **now.files(), "formats": formats}


def covers(held: Held, sign_off: SignOff, document: Document) -> bool:
    """Whether a sign-off covers a record as it is inked now, with all that belongs to it."""
    accepted, session = sign_off.accepted, held.session
    now = Covered(session, session.entries, document)
    if now.files() != _files(accepted):
        return False
    hashes = now.parts()
    other = [p for p in PARTS if accepted.formats.get(p) != FORMATS[PARTS[p]]]
    by_hash = [p for p in PARTS if p not in other]
    if any(hashes.get(part) != getattr(accepted, part) for part in by_hash):
        return False
    return not other or _as_then(held, sign_off, now, other)


def _files(accepted: Accepted) -> Tree:
    return _there({"program": accepted.program, "photos": dict(accepted.photos)})


def _as_then(held: Held, sign_off: SignOff, now: Covered, parts: list[str]) -> bool:
    """Whether parts say what they said at the revision that a sign-off names."""
    past = Revisions(held)
    point = past.at_commit(sign_off.sign_off.commit, "")
    try:
        document = past.document_at(point)
    except ReadError:
        document = None
    if document is None or not isinstance(document.model, Record):
        return False
    then = Covered(held.session, held.session.git.tree(point.commit), document)
    accepted = sign_off.accepted
    texts = {part: getattr(accepted, part) for part in PARTS}
    if not accepted.formats and {**then.texts(), **then.files()} != {
        **_there(texts), **_files(accepted),
    }:  # fmt: skip
        return False
    return all(_alike(then.values(part), now.values(part)) for part in parts)


def _alike(one: dict[str, Value] | None, other: dict[str, Value] | None) -> bool:
    if one is None or other is None:
        return one is other
    return say_the_same(one, other)
