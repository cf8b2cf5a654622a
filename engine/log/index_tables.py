"""The rows of the index as what they stand for; each is held against its sum before it counts.

Reader and builder look here. A row that is missing is told as well as one that
was changed: ways into the tables can be damaged where the rows are not. So rows come
with what they were looked up by and in the number that was written down elsewhere, and
nothing is said to be absent before its whole table was looked at.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime, timedelta, timezone
from functools import cache
from typing import Any

from engine.log import index_file
from engine.log.canonical_text import unspell
from engine.log.clocks import MOST_JUMPS, Jumps
from engine.log.commits import ChangeQuery, DocumentChange, Saved, ValueChange
from engine.log.index_file import Damaged, Extent
from engine.log.index_outlines import MANY, Outlines
from engine.log.index_rows import (
    from_word,
    to_word,
    unpack_changes,
    unpack_ids,
    unpack_marks,
)
from engine.log.walked_ways import jump_of
from engine.views import Who

Row = tuple[Any, ...]
RECORD_KEYS = ("wm-", "records/")
_RECORDS = "SELECT w FROM words WHERE text GLOB 'wm-*' OR text GLOB 'records/*'"
_NUMBERED = "WHERE {} IN (SELECT value FROM json_each(?))"
_MOST_KEPT = 5_000  # commits in memory
_LIVES = """SELECT words.text, documents.steps, saves.id FROM words
    JOIN documents ON documents.key = words.w
    JOIN steps ON steps.s = documents.last JOIN saves ON saves.n = steps.n
    WHERE words.text GLOB 'wm-*' OR words.text GLOB 'records/*' OR words.text GLOB 'cells/*'
    OR words.text IN ('people', 'book')"""


@cache
def _zone(seconds: int) -> timezone:
    return timezone(timedelta(seconds=seconds))


class IndexTables:
    """Reads the tables of one open index, of which `extent` is there at least.

    `width` is the length of an object id, in bytes.
    """

    def __init__(self, db: sqlite3.Connection, width: int, extent: Extent) -> None:
        self.db = db
        self.width = width
        self.extent = extent
        self.outlines = Outlines(db)
        self._saves: dict[int, Saved] = {}
        self._people: dict[int, Who] = {}
        self._words: dict[int, str] = {}
        self._words_seen = 0  # so many, when all were looked at
        self._homes: dict[int, list[int]] | None = None  # by path: records that ever lay there
        self._homes_seen = 0
        self._steps_seen = 0  # so many have a document, when all were looked at

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
        """The number of a word; -1 where it is none."""
        given = (to_word(text),)
        row = self.db.execute("SELECT w FROM words WHERE text = ?", given).fetchone()
        if row is not None:
            if self.word(row[0]) != text:
                raise Damaged("a word is another one")
            return int(row[0])
        self._look_at_each_word()
        if text in self._words.values():
            raise Damaged("a word is not found")
        return -1

    def _look_at_each_word(self) -> None:
        if self._words_seen >= max(self.extent.words, 1):
            return
        rows = index_file.read(self.db, "words", "ORDER BY w")
        if [w for w, _ in rows] != list(range(max(len(rows), self.extent.words))):
            raise Damaged("words are not all there")
        self._words = {w: from_word(text) for w, text in rows}
        self._words_seen = len(rows)

    # commits

    def save(self, n: int) -> Saved:
        """A commit by its number."""
        if n not in self._saves:
            self.look_up([n])
        return self._saves[n]

    def look_up(self, numbers: Iterable[int]) -> None:
        """Have some commits at hand, all that are not yet read at once."""
        wanted = [n for n in numbers if n not in self._saves]
        if len(wanted) == 1:
            rows = index_file.read(self.db, "saves", "WHERE n = ?", wanted)
        elif wanted:
            rows = index_file.read(self.db, "saves", _NUMBERED.format("n"), (json.dumps(wanted),))
        else:
            return
        if len({row[0] for row in rows}.intersection(wanted)) < len(wanted):
            raise Damaged("a commit is missing")
        if len(self._saves) + len(rows) > _MOST_KEPT:
            self._saves.clear()
        for row in rows:
            self._saves[row[0]] = self._read_save(row)

    def commit_id(self, n: int) -> str:
        """The id of a commit by its number."""
        known = self._saves.get(n)
        if known is not None:
            return known.id
        rows = index_file.read(self.db, "saves", "WHERE n = ?", (n,))
        if not rows:
            raise Damaged("a commit is missing")
        return str(rows[0][1].hex())

    def save_row(self, commit: str) -> Row:
        """The row of a commit by its id; Damaged where it is missing."""
        oid = bytes.fromhex(commit)
        rows = index_file.read(self.db, "saves", "WHERE id = ?", (oid,))
        if not rows or rows[0][1] != oid:
            raise Damaged("a commit is missing")
        return rows[0]

    def parent_ids(self, row: Row) -> tuple[str, ...]:
        """The parents of a commit by its row."""
        return unpack_ids(row[2], self.width)

    def _read_save(self, row: Row) -> Saved:
        _, oid, _, who, at, zone, subject, reason, kind, draft, marks, stamp = row
        return Saved(
            oid.hex(),
            self.parent_ids(row),
            self.who(who),
            datetime.fromtimestamp(at, _zone(zone)),
            subject,
            reason,
            kind,
            draft,
            *unpack_marks(marks),
            stamp,
        )

    # commits by their numbers, as `clocks.Stamped` wants them

    def numbers(self, parents: Iterable[str]) -> tuple[int, ...]:
        """The numbers of commits that are in the index."""
        return tuple(self.save_row(parent)[0] for parent in parents)

    def parents(self, n: int) -> tuple[int, ...]:
        """The parents of a commit, the first one first."""
        outline = self.outlines.of(n)
        if outline.second == MANY:
            return self.numbers(self.save(n).parents)
        return tuple(parent for parent in (outline.parent, outline.second) if parent >= 0)

    def bends(self, n: int) -> int:
        """How many of the commits up to `n` have not all others of them in their past."""
        return self.outlines.of(n).bends

    def stamp(self, n: int) -> int:
        """The committer's stamp."""
        return self.outlines.of(n).stamp

    def top(self, n: int) -> int:
        """The latest stamp of a commit and all of its past."""
        return self.outlines.of(n).top

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""
        extent = self.extent
        saves = [self.save(n) for n in extent.jumps]
        found = [
            jump_of(saved, [self.save(parent) for parent in self.numbers(saved.parents)])
            for saved in saves
        ]
        last = tuple(jump for jump in found if jump is not None)
        if len(last) != min(extent.jumped, MOST_JUMPS):
            raise Damaged("stamps that run backwards are not all there")
        return Jumps(extent.jumped, last, extent.behind)

    def who(self, w: int) -> Who:
        """Who made a commit, by the number in its row."""
        if w not in self._people:
            self._people[w] = Who(*json.loads(self.word(w)))
        return self._people[w]

    # documents and their steps

    def document(self, w: int) -> Row | None:
        """The row of a document by the number of its key; None where it never had a step."""
        rows = index_file.read(self.db, "documents", "WHERE key = ?", (w,))
        if not rows and self._steps_seen < max(self.extent.steps, 1):
            every = index_file.read(self.db, "documents")
            self._steps_seen = sum(row[1] for row in every)
            if self._steps_seen < self.extent.steps or any(row[0] == w for row in every):
                raise Damaged("documents are not all there")
        return rows[0] if rows else None

    def records(self) -> list[Row]:
        """The rows of all documents whose key is that of a record."""
        rows = index_file.read(self.db, "documents", f"WHERE key IN ({_RECORDS})")
        strange = any(not self.word(row[0]).startswith(RECORD_KEYS) for row in rows)
        if strange or len(rows) < self.extent.records:
            raise Damaged("records are not all there")
        return rows

    def documents_named(self, keys: Collection[str]) -> list[Row]:
        """The rows of some documents by their keys; what never was is left out."""
        wanted = [w for w in map(self.number, keys) if w >= 0]
        given = json.dumps(wanted)
        rows = index_file.read(self.db, "documents", _NUMBERED.format("key"), (given,))
        if len({row[0] for row in rows}.intersection(wanted)) != len(wanted):
            raise Damaged("documents are not all there")
        return rows

    def documents(self) -> list[str]:
        """The keys of all documents that ever were."""
        rows = index_file.read(self.db, "documents")
        if sum(row[1] for row in rows) < self.extent.steps:
            raise Damaged("documents are not all there")
        self._look_at_each_word()
        return sorted(self.word(row[0]) for row in rows)

    def lives(self) -> dict[str, str]:
        """Count of steps and last commit of records, cells, people and book, by key.

        Without the sums of rows: it tells only whether something is as it was, and what
        damage makes of it is never that.
        """
        found = self.db.execute(_LIVES)
        return {from_word(text): f"{steps} {commit.hex()}" for text, steps, commit in found}

    def is_home(self, path: int, key: int) -> bool:
        """Whether a record ever lay at a path, by the numbers of both."""
        given = (path, key)
        return bool(index_file.read(self.db, "homes", "WHERE path = ? AND key = ?", given))

    def keys_at(self, path: str) -> list[str]:
        """The keys of all records that ever lay at a path."""
        w = self.number(path)
        return sorted(self.word(key) for key in self._all_homes().get(w, ()))

    def _all_homes(self) -> dict[int, list[int]]:
        """All pairs, read once: one that is missing must not make a name another record's."""
        if self._homes is None or self._homes_seen < self.extent.homes:
            rows = index_file.read(self.db, "homes")
            self._homes, self._homes_seen = {}, len(rows)
            if len(rows) < self.extent.homes:
                raise Damaged("names of records are not all there")
            for path, key in rows:
                self._homes.setdefault(path, []).append(key)
        return self._homes

    def steps(self, rest: str, given: tuple[object, ...]) -> list[Row]:
        """Rows of steps."""
        return index_file.read(self.db, "steps", rest, given)

    def steps_numbered(self, numbers: Iterable[int]) -> list[Row]:
        """Some rows of steps by their numbers, each of which there is."""
        wanted = list(numbers)
        given = json.dumps(wanted)
        rows = self.steps(_NUMBERED.format("s"), (given,))
        if len(rows) != len(wanted):
            raise Damaged("steps are not all there")
        return rows

    def steps_up_to(self, key: str, n: int) -> Iterator[Row]:
        """The rows of a document in commits up to a number, newest first; some are read ahead."""
        w = self.number(key)
        document = self.document(w) if w >= 0 else None
        if document is None:
            return
        count = self.db.execute("SELECT count(*) FROM steps WHERE key = ?", (w,)).fetchone()[0]
        if count < document[1]:
            raise Damaged("steps are not all there")
        before, size = self.extent.steps, 4
        while True:
            rows = self.steps("WHERE key = ? AND s < ? ORDER BY s DESC LIMIT ?", (w, before, size))
            if any(row[2] != w or row[0] >= before for row in rows):
                raise Damaged("a step is another document's")
            yield from (row for row in rows if row[1] <= n)
            if len(rows) < size:
                return
            before, size = rows[-1][0], size * 4

    def steps_of(self, key: str) -> list[Row]:
        """All rows of a document, oldest first."""
        w = self.number(key)
        if w < 0:
            return []
        document = self.document(w)
        rows = self.steps("WHERE key = ? ORDER BY s", (w,))
        return _whole(rows, 2, w, document[1] if document else 0)

    def steps_of_save(self, n: int, count: int) -> list[Row]:
        """All rows of a commit, in the order of its documents; its outline has their count."""
        return self.steps_of_saves({n: count})[n]

    def steps_of_saves(self, counts: Mapping[int, int]) -> dict[int, list[Row]]:
        """The same of many commits at once."""
        found: dict[int, list[Row]] = {n: [] for n in counts}
        given = (json.dumps(list(counts)),)
        for row in self.steps(f"{_NUMBERED.format('n')} ORDER BY s", given):
            if row[1] not in found:
                raise Damaged("a step is another commit's")
            found[row[1]].append(row)
        return {n: _whole(rows, 1, n, counts[n]) for n, rows in found.items()}

    def step(self, row: Row) -> DocumentChange:
        """A step by its row."""
        _, n, _, path, olds, new, _ = row
        width = self.width
        return DocumentChange(
            self.save(n), self.word(path), unpack_ids(olds, width), unpack_ids(new, width)[0]
        )

    def changes(self, row: Row, wanted: ChangeQuery) -> list[ValueChange]:
        """Changes of the covered values by a step, by its row."""
        covers, replaced = wanted.covers, wanted.replaced
        saved, key, path = self.save(row[1]), self.word(row[2]), self.word(row[3])
        return [
            ValueChange(
                saved,
                key,
                path,
                address,
                None if old is None else unspell(old),
                None if new is None else unspell(new),
                decided,
            )
            for address, old, new, decided in unpack_changes(row[6])
            if (covers is None or covers(address)) and not (replaced and not (old and new))
        ]


def _whole(rows: list[Row], column: int, wanted: int, least: int) -> list[Row]:
    """Rows of steps, if each stands once, for what was wanted, and as many as were written."""
    sound = {row[0] for row in rows if row[column] == wanted}
    if len(sound) < max(len(rows), least):
        raise Damaged("steps are not all there")
    return rows
