"""The name of an object is a hash of what it says: whoever reads one can tell whether it is it.

Nothing that a repository gives is believed by its name alone: a file under `objects` can be
rotten, or written over by somebody.
"""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path

from schemas.errors import BookError

_MOST_BYTES = 300_000_000  # no file of a book is larger
_LONG = 64  # digits of a name by SHA-256


def object_id(kind: bytes, data: bytes, *, long: bool = False) -> str:
    """The id that git gives to an object of a kind (blob, tree, commit) by its bytes."""
    made = (hashlib.sha256 if long else hashlib.sha1)(b"%s %d\0" % (kind, len(data)))
    made.update(data)
    return made.hexdigest()


def is_sound(oid: str, kind: bytes, data: bytes) -> bool:
    """Whether bytes are the object that has this id."""
    return object_id(kind, data, long=len(oid) == _LONG) == oid


def loose_file(private: Path, oid: str) -> Path:
    """Where an object lies that is in no pack."""
    return private / "objects" / oid[:2] / oid[2:]


def is_broken_file(private: Path, oid: str) -> bool:
    """Whether an object has a file of its own that does not hold it."""
    unpacked = zlib.decompressobj()
    try:
        whole = unpacked.decompress(loose_file(private, oid).read_bytes(), _MOST_BYTES)
    except FileNotFoundError:
        return False
    except (OSError, zlib.error):
        return True
    if not unpacked.eof:
        return True
    head, _, data = whole.partition(b"\0")
    return not is_sound(oid, head.partition(b" ")[0], data)


class BadObject(BookError):
    """An object that is damaged or missing: nothing of it is shown, and no guess is made."""

    def __init__(self, oid: str, what: str, private: Path) -> None:
        file = loose_file(private, oid)
        self.oid = oid
        self.said = what
        self.file = f".git/objects/{oid[:2]}/{oid[2:]}" if file.exists() else ".git/objects/pack"
        super().__init__(
            f"object {oid[:12]} {what}",
            where=self.file,
            hint="`witnessmark check --objects` says what it belongs to. Do not save on; take it "
            "from another copy of the book or from a backup.",
        )
