"""Texts that were read lately, by their blobs, while the index is built.

What is not at hand comes from git, so the answer never depends on what is kept.
"""

from __future__ import annotations

from engine.log import canonical_text
from engine.log.canonical_text import Canonical, Spelt
from engine.log.document_cache import BlobReader

_KEPT_BYTES = 24_000_000


class RecentTexts:
    """Texts that were read lately, by their blobs; the rest comes from git."""

    def __init__(self, git: BlobReader) -> None:
        self._git = git
        self._data: dict[str, bytes] = {}
        self._size = 0
        self._tables: dict[str, frozenset[str] | None] = {}

    def put(self, blob: str, data: bytes) -> None:
        """Keep a text, and let the ones that were not used for the longest time go."""
        if blob in self._data:
            return
        self._data[blob] = data
        self._size += len(data)
        while self._size > _KEPT_BYTES and len(self._data) > 1:
            oldest = next(iter(self._data))
            self._size -= len(self._data.pop(oldest))
            self._tables.pop(oldest, None)

    def touch(self, blob: str) -> bool:
        """Whether a text is at hand; if so it stays longer."""
        data = self._data.pop(blob, None)
        if data is None:
            return False
        self._data[blob] = data
        return True

    def blob(self, oid: str) -> bytes:
        """The bytes of a text. BookError where the repository lost it."""
        data = self._data.get(oid)
        if data is None:
            data = self._git.blob(oid)
            self.put(oid, data)
        return data

    def read(self, blob: str) -> Spelt | None:
        """All values of a canonical text, None for another one."""
        quick = canonical_text.read_canonical(self.blob(blob))
        self._tables[blob] = quick[1] if quick else None
        return quick[0] if quick else None

    def quick_change(self, old: str, new: str) -> tuple[Spelt, Spelt] | None:
        """What stands in the tables that differ, where both texts are canonical."""
        if old not in self._tables:
            self.read(old)
        tables = self._tables[old]
        if tables is None:
            return None
        found = canonical_text.changed_tables(Canonical(self.blob(old), tables), self.blob(new))
        if found is None:
            return None
        self._tables[new] = tables
        return found
