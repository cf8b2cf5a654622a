"""Texts that were read lately, by their blobs, while the index is built.

What is not at hand comes from git, so the answer never depends on what is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from engine.log import canonical_text
from engine.log.attribution import WITH_VALUES
from engine.log.canonical_text import Canonical, Shape, Spelt
from engine.log.document_cache import BlobReader
from engine.log.tidied_text import tidied

_KEPT_BYTES = 24_000_000


class ObjectReader(Protocol):
    """Whoever reads many objects at once: a repository."""

    def objects(self, names: Sequence[str]) -> list[tuple[str, bytes]]:
        """(id, bytes) of each, in their order; ("", b"") where there is none."""


class RecentTexts:
    """Texts that were read lately, by their blobs; the rest comes from git."""

    def __init__(self, git: BlobReader) -> None:
        self._git = git
        self._data: dict[str, bytes] = {}
        self._size = 0
        self._shapes: dict[tuple[str | None, str], Shape | None] = {}
        self._tidied: dict[str, bytes] = {}  # of those that hands wrote

    def put(self, blob: str, data: bytes) -> None:
        """Keep a text, and let the ones that were not used for the longest time go."""
        if blob in self._data:
            return
        self._data[blob] = data
        self._size += len(data)
        while self._size > _KEPT_BYTES and len(self._data) > 1:
            oldest = next(iter(self._data))
            self._size -= len(self._data.pop(oldest)) + len(self._tidied.pop(oldest, b""))
            for kind in WITH_VALUES:
                self._shapes.pop((kind, oldest), None)

    def fetch(self, git: ObjectReader, blobs: Iterable[str]) -> None:
        """Have some texts at hand, all that are not yet read at once."""
        wanted = [blob for blob in dict.fromkeys(blobs) if blob and not self.touch(blob)]
        for blob, (found, data) in zip(wanted, git.objects(wanted), strict=True):
            if found:
                self.put(blob, data)

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
        """All values of a text that can be read line by line, None for another one."""
        quick = canonical_text.read_canonical(kind, self.blob(blob))
        if quick is None and self._tidy(blob):
            quick = canonical_text.read_canonical(kind, self._tidied[blob])
        self._shapes[kind, blob] = quick[1] if quick else None
        return quick[0] if quick else None

    def _tidy(self, blob: str) -> bool:
        """Have a text in the writer's layout; False where it is so already, or cannot be."""
        if blob not in self._tidied:
            data = self.blob(blob)
            made = tidied(data)
            if made is None or made == data:
                return False
            self._tidied[blob] = made
            self._size += len(made)
        return True

    def is_by_hand(self, blob: str) -> bool:
        """Whether a text that was read is not in the writer's spelling."""
        return blob in self._tidied

    def quick_change(
        self, kind: str | None, olds: Sequence[str], new: str
    ) -> tuple[list[Spelt], Spelt] | None:
        """What stands in the tables that differ, where all texts can be read line by line."""
        before = []
        for old in olds:
            if (kind, old) not in self._shapes:
                self.read(kind, old)
            shape = self._shapes[kind, old]
            if shape is None:
                return None
            before.append(Canonical(self._tidied.get(old) or self.blob(old), shape))
        found = canonical_text.changed_tables(kind, before, self.blob(new))
        if found is None and self._tidy(new):
            found = canonical_text.changed_tables(kind, before, self._tidied[new])
        if found is not None:
            self._shapes[kind, new] = before[0].shape
        return found
