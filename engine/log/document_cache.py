"""What stands in a blob: its document, its values, whose it is. Kept by blob, never stale.

A record is its id, so a rename changes nothing; any other document is its name.
Of a text that breaks a rule the values still count; of one that is no TOML at
all nothing does, and `values` is None.
"""

from __future__ import annotations

import re
from typing import Any, Protocol

from engine.cache import LruCache
from engine.log import canonical_text
from engine.log.tidied_text import tidied
from schemas.address import Tree, Value, flatten, look_up
from schemas.document import Document, check_tree, kind_of, name_of, read_document, read_tree
from schemas.errors import ReadError
from schemas.toml import read_toml

_CANONICAL = re.compile(rb'format = [0-9]{1,6}\n\n\[record\]\nid = "(wm-[0-9a-z]{6,12})"\n')
_END = rb"[ \t]*(?:#[^\n]*)?\r?\n(?:[ \t]*(?:#[^\n]*)?\r?\n)*[ \t]*"  # of a line, and what is none
_BY_HAND = re.compile(
    rb"(?:[ \t]*(?:#[^\n]*)?\r?\n)*[ \t]*format[ \t]*=[ \t]*[0-9]{1,6}" + _END
    + rb"\[record\]" + _END + rb'id[ \t]*=[ \t]*"(wm-[0-9a-z]{6,12})"' + _END
)  # fmt: skip
_RECORD_ID = re.compile(r'^id *= *"(wm-[0-9a-z]{6,12})"', re.MULTILINE)


class BlobReader(Protocol):
    """Whoever has the bytes of blobs: a repository, or what was read of it lately."""

    def blob(self, oid: str) -> bytes:
        """Bytes of one blob. BookError where the repository lost it."""


class DocumentCache:
    """Reads texts of one repository by their blobs."""

    def __init__(self, blobs: BlobReader) -> None:
        self._blobs = blobs
        self._documents: LruCache[Any] = LruCache(2_200)  # some 35 kB each, their values with them
        self._values: LruCache[Any] = LruCache(1_000)
        self._keys: LruCache[Any] = LruCache(100_000)
        self._broken: set[str] = set()  # texts that are no TOML, as far as they were read

    def key(self, path: str, blob: str) -> str:
        """What a document is: a record's id, or the name of any other document.

        A record without an id goes by `records/…`, so that it is never taken for another.
        """
        if kind_of(path) != "record":
            return name_of(path)
        found: str = self._keys.get((path, blob), lambda: record_id(path, self._blobs.blob(blob)))
        return found

    def document(self, path: str, blob: str) -> Document:
        """A document by its blob. ReadError where that text cannot be used."""
        found = self._documents.get((path, blob), lambda: self._read(path, blob))
        if isinstance(found, ReadError):
            raise found
        assert isinstance(found, Document)
        return found

    def _read(self, path: str, blob: str) -> Document | ReadError:
        data = self._blobs.blob(blob)
        try:
            return read_quickly(data, path) or read_document(data, path)
        except ReadError as error:
            return error

    def values(self, path: str, blob: str) -> dict[str, Value] | None:
        """Every value of a document by address, even of one that breaks a rule.

        Empty for no file, None where the text is no TOML at all.
        """
        if not blob:
            return {}
        found: dict[str, Value] | None = self._values.get(
            (path, blob), lambda: self._read_values(path, blob)
        )
        return found

    def _read_values(self, path: str, blob: str) -> dict[str, Value] | None:
        try:
            return self.document(path, blob).values
        except ReadError:
            try:
                return flatten(read_tree(self._blobs.blob(blob), path)[0])
            except ReadError:
                return None

    def spelt(self, path: str, blob: str) -> canonical_text.Spelt | None:
        """The same values as text on one line each, worked out anew."""
        if not blob:
            return {}
        if blob in self._broken:
            return None
        data = self._blobs.blob(blob)
        quick = canonical_text.read_canonical(kind_of(path), data)
        if quick is None:
            made = tidied(data)
            quick = canonical_text.read_canonical(kind_of(path), made) if made else None
        return quick[0] if quick else self.spelt_in_full(path, blob)

    def spelt_in_full(self, path: str, blob: str) -> canonical_text.Spelt | None:
        """The same by the full parser; what is no TOML is not read a second time."""
        if blob in self._broken:
            return None
        try:
            tree = read_tree(self._blobs.blob(blob), path)[0]
        except ReadError:
            self._broken.add(blob)
            return None
        return spelt_slowly(flatten(tree))

    def is_broken(self, blob: str) -> bool:
        """Whether a text is known to be no TOML."""
        return blob in self._broken


def read_quickly(data: bytes, path: str) -> Document | None:
    """A document by a text as the writer spells it; None for any other, or one with a fault.

    Equal to reading it in full: such a text has no comments, and no fault whose line is told.
    """
    quick = canonical_text.read_canonical(kind_of(path), data)
    if quick is None:
        return None
    tables: dict[str, Tree] = {"": {}}
    for table in sorted(quick[1].tables):
        above, _, name = table.rpartition(".")
        tables[above][name] = tables[table] = {}
    for address, spelt in quick[0].items():
        above, _, name = address.rpartition(".")
        tables[above][name] = canonical_text.parsed(spelt)
    try:
        return check_tree(tables[""], path)
    except ReadError:
        return None


def spelt_slowly(values: dict[str, Value]) -> canonical_text.Spelt:
    """Values as text, one by one."""
    return {a: canonical_text.spell(value) for a, value in values.items()}


def record_id(path: str, data: bytes) -> str:
    """The id of a record by its text, or its path without the ending where it has none."""
    quick = _CANONICAL.match(data) or _BY_HAND.match(data)
    if quick:
        return quick[1].decode()
    try:
        found = look_up(read_toml(data, path).tree, "record.id")
    except ReadError:  # a broken text is still that record's, if it says so
        found = None
        text = data.decode("utf-8", "replace").partition("[record]")[2]
        if broken := _RECORD_ID.search(text):
            return broken[1]
    named = isinstance(found, str) and re.fullmatch("wm-[0-9a-z]{6,12}", found)
    return str(found) if named else path.removesuffix(".toml")
