"""What is asked of all commits at once, packed: many are looked through for the price of a row.

One row of the index holds the outlines of `SIZE` commits under one check sum, so a commit
that does not match was looked at as surely as one that does. They are in the order of the
commits' numbers, and none is left out. One more row has the latest stamp of each of these rows,
so that those before a moment need not be read.
"""

from __future__ import annotations

import sqlite3
import struct
from array import array
from collections.abc import Iterator, Sequence
from math import inf
from typing import Any, NamedTuple

from engine.log import index_file
from engine.log.index_file import Damaged

SIZE = 200  # commits: each save writes its row anew
_PACKED = struct.Struct("<qI?IqiiI")
MANY = -2  # in place of a second parent: there are more, and the commit's own row has them
_WIDTH = _PACKED.size
_TOPS = -1  # in place of a first commit: the row with the latest stamps of all others


class Outline(NamedTuple):
    """One commit, as far as it matters to whoever looks through many."""

    stamp: int  # the committer's, in seconds since 1970
    who: int  # the number of a word
    bare: bool  # no reason was given
    steps: int  # how many documents it changed
    top: int  # the latest stamp of it and all of its past
    parent: int  # the number of its first parent, -1 for none
    second: int  # and of its second one; MANY where there are more
    bends: int  # so many up to this one have not all others in their past


_TOP = Outline._fields.index("top")


class Outlines:
    """The outlines of one open index."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._rows: dict[int, bytes] = {}  # by number of their first commit
        self._tops = array("q")
        self._tops_end = 0  # of as many commits, when they were read

    def of(self, n: int) -> Outline:
        """The outline of one commit. Damaged where there is none."""
        place = n % SIZE
        return Outline._make(_PACKED.unpack_from(self._row(n - place, place + 1), place * _WIDTH))

    def newest_first(
        self, end: int, since: float = -inf
    ) -> Iterator[tuple[int, list[tuple[Any, ...]]]]:
        """The outlines of all commits below a number, row by row: the first number, and theirs.

        Without rows in which no `top` is as late as `since`. They come as bare tuples: to give
        each its names would take longer than to look.
        """
        starts = range(0, end, SIZE)
        tops = self._latest(end) if since > -inf else array("q")
        for first in starts[::-1]:
            count = min(SIZE, end - first)
            if (
                since > -inf
                and count == SIZE
                and first + SIZE < end
                and tops[first // SIZE] < since
            ):
                continue
            data = self._row(first, count)[: count * _WIDTH]
            yield first, list(_PACKED.iter_unpack(data))

    def _latest(self, end: int) -> array[int]:
        """The latest stamp of each row of commits below a number, whole rows at least."""
        if self._tops_end < end:
            rows = index_file.read(self._db, "outlines", "WHERE first = ?", (_TOPS,))
            self._tops, self._tops_end = array("q", rows[0][1] if rows else b""), end
        if len(self._tops) < end // SIZE:
            self._tops_end = 0
            raise Damaged("stamps of commits are missing")
        return self._tops

    def _row(self, first: int, least: int) -> bytes:
        """A row with so many outlines at least; one that was read before may have grown."""
        data = self._rows.get(first, b"")
        if len(data) < least * _WIDTH:
            rows = index_file.read(self._db, "outlines", "WHERE first = ?", (first,))
            data = self._rows[first] = rows[0][1] if rows else b""
        if len(data) < least * _WIDTH:
            raise Damaged("outlines of commits are missing")
        return data

    def append(self, n: int, fresh: Sequence[Outline]) -> None:
        """Write those of commits from number `n` on, behind all that are there."""
        place = n % SIZE
        data = self._row(n - place, place)[: place * _WIDTH] if place else b""
        data += b"".join(_PACKED.pack(*outline) for outline in fresh)
        step = SIZE * _WIDTH
        packed = [data[at : at + step] for at in range(0, len(data), step)]
        first, self._tops_end = n // SIZE, 0
        tops = self._latest(first * SIZE)[:first]
        tops.extend(max(row[_TOP] for row in _PACKED.iter_unpack(part)) for part in packed)
        rows = [((first + m) * SIZE, part) for m, part in enumerate(packed)]
        index_file.add(self._db, "outlines", [*rows, (_TOPS, tops.tobytes())])
