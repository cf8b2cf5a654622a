"""The rows of the index as what they stand for; each is held against its sum before it counts.

Reader and builder look here. A row that is missing is told as well as one that
was changed: ways into the tables can be damaged where the rows are not.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from typing import Any

from engine.log import index_file
from engine.log.canonical_text import unspell
from engine.log.commits import DocumentChange, Saved, ValueChange
from engine.log.index_file import Damaged
from engine.log.index_rows import from_word, to_word, unpack_changes, unpack_ids
from engine.views import Who

Row = tuple[Any, ...]
_MOST_KEPT = 5_000  # commits in memory


class IndexTables:
    """Reads the tables of one open index; `width` is the length of an object id, in bytes."""

    def __init__(self, db: sqlite3.Connection, width: int) -> None:
        self.db = db
        self.width = width
        self._saves: dict[int, Saved] = {}
        self._words: dict[int, str] = {}

    # words

    def word(self, w: int) -> str:
        """The word that a number stands for."""
        if w not in self._words:
            rows = index_file.read(self.db, "words", "WHERE w = ?", (w,))
            if not rows:
                raise Damaged("a word is missing")
            self._words[w] = from_word(rows[0][1])
        return self._words[w]

    def number(self, text: str) -> int:
        """The number of a word; -1 where it is none, which is never said without a look at each."""
        given = (to_word(text),)
        for how in ("", "NOT INDEXED"):
            row = self.db.execute(f"SELECT w FROM words {how} WHERE text = ?", given).fetchone()
            if row is not None:
                if self.word(row[0]) != text:
                    raise Damaged("a word is another one")
                return int(row[0])
        return -1

    # commits

    def save(self, n: int) -> Saved:
        """A commit by its number."""
        if n not in self._saves:
            rows = index_file.read(self.db, "saves", "WHERE n = ?", (n,))
            if not rows:
                raise Damaged("a commit is missing")
            if len(self._saves) >= _MOST_KEPT:
                self._saves.clear()
            self._saves[n] = self._read_save(rows[0])
        return self._saves[n]

    def save_row(self, commit: str) -> Row | None:
        """The row of a commit by its id, or None."""
        rows = index_file.read(self.db, "saves", "WHERE id = ?", (bytes.fromhex(commit),))
        return rows[0] if rows else None

    def known_row(self, commit: str) -> Row:
        """The same, of a commit that must be there."""
        row = self.save_row(commit)
        if row is None:
            raise Damaged("a commit is missing")
        return row

    def parents(self, row: Row) -> tuple[str, ...]:
        """The parents of a commit by its row."""
        return unpack_ids(row[2], self.width)

    def _read_save(self, row: Row) -> Saved:
        _, oid, _, who, at, zone, subject, reason, kind, draft, whole = row
        return Saved(
            oid.hex(),
            self.parents(row),
            Who(*json.loads(self.word(who))),
            datetime.fromtimestamp(at, timezone(timedelta(seconds=zone))),
            subject,
            reason,
            kind,
            draft,
            bool(whole),
        )

    # steps of documents

    def steps(self, rest: str, given: tuple[object, ...]) -> list[Row]:
        """Rows of steps."""
        return index_file.read(self.db, "steps", rest, given)

    def steps_of(self, key: str) -> list[Row]:
        """All rows of a document, oldest first."""
        w = self.number(key)
        documents = index_file.read(self.db, "documents", "WHERE key = ?", (w,))
        rows = self.steps("WHERE key = ? ORDER BY s", (w,))
        if len(rows) != (documents[0][1] if documents else 0):
            raise Damaged("a document's steps are not all there")
        return rows

    def step(self, row: Row) -> DocumentChange:
        """A step by its row."""
        _, n, _, path, olds, new, _ = row
        width = self.width
        return DocumentChange(
            self.save(n), self.word(path), unpack_ids(olds, width), unpack_ids(new, width)[0]
        )

    def changes(self, row: Row, covers: Callable[[str], bool]) -> Iterator[ValueChange]:
        """Changes of the covered values by a step, by its row."""
        for address, old, new in unpack_changes(row[6]):
            if covers(address):
                yield ValueChange(
                    self.save(row[1]),
                    self.word(row[2]),
                    self.word(row[3]),
                    address,
                    None if old is None else unspell(old),
                    None if new is None else unspell(new),
                )
