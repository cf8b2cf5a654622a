"""Texts that were read lately, by their blobs, while the index is built.

What is not at hand comes from git, so the answer never depends on what is kept.
"""

from __future__ import annotations

from engine.log import canonical_text
from engine.log.attribution import WITH_VALUES
from engine.log.canonical_text import Canonical, Shape, Spelt
from engine.log.document_cache import BlobReader

_KEPT_BYTES = 24_000_000


class RecentTexts:
    """Texts that were read lately, by their blobs; the rest comes from git."""

    def __init__(self, git: BlobReader) -> None:
        self._git = git
        self._data: dict[str, bytes] = {}
        self._size = 0
        self._shapes: dict[tuple[str | None, str], Shape | None] = {}

    def put(self, blob: str, data: bytes) -> None:
        """Keep a text, and let the ones that were not used for the longest time go."""
        if blob in self._data:
            return
        self._data[blob] = data
        self._size += len(data)
        while self._size > _KEPT_BYTES and len(self._data) > 1:
            oldest = next(iter(self._data))
            self._size -= len(self._data.pop(oldest))
            for kind in WITH_VALUES:
                self._shapes.pop((kind, oldest), None)

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

    def read(self, kind: str | None, blob: str) -> Spelt | None:
        """All values of a canonical text, None for another one."""
        quick = canonical_text.read_canonical(kind, self.blob(blob))
        self._shapes[kind, blob] = quick[1] if quick else None
        return quick[0] if quick else None

    def quick_change(self, kind: str | None, old: str, new: str) -> tuple[Spelt, Spelt] | None:
        """What stands in the tables that differ, where both texts are canonical."""
        if (kind, old) not in self._shapes:
            self.read(kind, old)
        shape = self._shapes[kind, old]
        if shape is None:
            return None
        found = canonical_text.changed_tables(
            kind, Canonical(self.blob(old), shape), self.blob(new)
        )
        if found is None:
            return None
        self._shapes[kind, new] = shape
        return found
