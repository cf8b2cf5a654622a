"""Makes the index out of one stream of git's log and one stream of its objects.

Each commit is read once, parents first, and each text at most twice. Git works
on the next stretch while this one is taken in. What a commit changed is worked
out from the tables in which its text differs, where both texts are canonical,
and from all values otherwise: both give the same rows.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from itertools import islice
from typing import cast

from engine.log import canonical_text
from engine.log.attribution import Attribution, Touched, order_of_addresses
from engine.log.canonical_text import Canonical, Spelt
from engine.log.commits import Saved, read_saved
from engine.log.document_cache import DocumentCache, spelt_slowly
from engine.log.index_file import finish, said, say, sum_of
from engine.log.index_rows import (
    from_word,
    pack_changes,
    pack_ids,
    sum_of_step,
    to_word,
    unpack_ids,
)
from engine.repo.git import Git
from engine.repo.stream import ObjectStream, Streamed, commits
from engine.views import Who
from schemas.document import kind_of

WITH_VALUES = ("record", "cell", "people", "book")
Progress = Callable[[int], None]  # how many commits were read; 0 when it is over

_STRETCH = 400  # commits
_ASKED = 1_000  # names in git's pipe at once
_KEPT_BYTES = 24_000_000


class IndexBuilder:
    """Writes what is new into an index, in one transaction of the caller's."""

    def __init__(self, git: Git, db: sqlite3.Connection) -> None:
        self.git = git
        self.db = db
        self._kept = _Blobs(git)
        self._texts = DocumentCache(cast("Git", self._kept))
        self._attribution = Attribution(git, self._texts, self)
        self._words: dict[str, int] = {}
        self._people: dict[Who, int] = {}
        self._homes: dict[str, set[str]] = {}  # of records, since this builder began
        self._next_word = self._most("words", "w") + 1
        self._n, self._s = self._most("saves", "n") + 1, self._most("steps", "s") + 1
        self._anew = not self._n
        self._saves: list[tuple[object, ...]] = []
        self._steps: list[tuple[object, ...]] = []
        self._documents: dict[int, list[int]] = {}
        self._attribution.twice.update(json.loads(said(db).get("twice", "[]")))
        self._width = 20

    def _most(self, table: str, column: str) -> int:
        found = self.db.execute(f"SELECT max({column}) FROM {table}").fetchone()[0]
        return -1 if found is None else int(found)

    def take(self, head: str, known: str = "", progress: Progress | None = None) -> None:
        """Take in the past of `head`, without that of `known`."""
        self._width = len(head) // 2
        objects = ObjectStream(self.git)
        stream = commits(self.git, head, *([f"^{known}"] if known else []))
        try:
            for stretch in self._stretches(stream, objects):
                for one in stretch:
                    self._take_in(one)
                self._flush()
                if progress is not None:
                    progress(self._n)
        finally:
            if progress is not None:
                progress(0)
            objects.close()
            stream.close()  # type: ignore[attr-defined]
        self._count_documents()
        say(self.db, "head", head)
        say(self.db, "twice", json.dumps(sorted(self._attribution.twice)))

    def _stretches(
        self, stream: Iterator[Streamed], objects: ObjectStream
    ) -> Iterator[list[Streamed]]:
        """Commits a stretch at a time, their texts at hand; git reads on meanwhile."""
        now = list(islice(stream, _STRETCH))
        asked = self._ask(now, objects)
        while now:
            for name in asked:
                self._kept.put(name, objects.take())
            later = list(islice(stream, _STRETCH))
            asked = self._ask(later, objects)
            yield now
            now = later

    def _ask(self, stretch: list[Streamed], objects: ObjectStream) -> list[str]:
        """Ask for the texts that a stretch needs; those still to be taken."""
        wanted: dict[str, None] = {}
        for one in stretch:
            for files in one.differing:
                for file in files:
                    if kind_of(file.path) in WITH_VALUES:
                        wanted[file.old] = wanted[file.new] = None
        names = [name for name in wanted if name and not self._kept.touch(name)]
        while len(names) > _ASKED:
            now, names = names[:_ASKED], names[_ASKED:]
            objects.ask(now)
            for name in now:
                self._kept.put(name, objects.take())
        objects.ask(names)
        return names

    def _take_in(self, one: Streamed) -> None:
        saved = read_saved(one.raw)
        self._saves.append(self._save_row(saved))
        for touched in self._attribution.touched(one):
            if kind_of(touched.path) in WITH_VALUES:
                changes = pack_changes(self._rows(saved, touched))
            else:
                changes = b""
            self._add(touched, changes)
        self._n += 1

    def _save_row(self, saved: Saved) -> tuple[object, ...]:
        offset = saved.when.utcoffset()
        row = (
            self._n,
            bytes.fromhex(saved.id),
            pack_ids(saved.parents, self._width),
            self._who(saved.who),
            int(saved.when.timestamp()),
            int(offset.total_seconds()) if offset else 0,
            saved.subject,
            saved.reason,
            saved.kind,
            saved.draft,
            int(saved.whole),
        )
        return (*row, sum_of(row))

    def _who(self, who: Who) -> int:
        found = self._people.get(who)
        if found is None:
            text = json.dumps((who.key, who.name, who.login), ensure_ascii=False)
            found = self._people[who] = self._word(text)
        return found

    def _add(self, touched: Touched, changes: bytes) -> None:
        key, path = self._word(touched.key), self._word(touched.path)
        new = pack_ids([touched.new], self._width)
        olds = pack_ids(touched.olds, self._width)
        check = sum_of_step(self._s, self._n, key, path, olds + new, changes)
        self._steps.append((self._s, self._n, key, path, olds, new, changes, check))
        counts = self._documents.setdefault(key, [0, 0, -1])
        counts[0] += 1
        if touched.new:
            counts[1] += 1
            counts[2] = self._s
        if touched.key.startswith("wm-"):
            self._homes.setdefault(touched.key, set()).add(touched.path)
        self._s += 1

    def _word(self, text: str) -> int:
        known = self._words.get(text)
        if known is None:
            word = (to_word(text),)
            row = self.db.execute("SELECT w FROM words WHERE text = ?", word).fetchone()
            if row is None:
                known = self._next_word
                self._next_word += 1
                row = (known, *word, sum_of((known, *word)))
                self.db.execute("INSERT INTO words VALUES (?, ?, ?)", row)
            else:
                known = row[0]
            self._words[text] = known
        return known

    def _flush(self) -> None:
        marks = ", ".join("?" * 12)
        self.db.executemany(f"INSERT INTO saves VALUES ({marks})", self._saves)
        self.db.executemany("INSERT INTO steps VALUES (?, ?, ?, ?, ?, ?, ?, ?)", self._steps)
        self._saves, self._steps = [], []

    def _count_documents(self) -> None:
        """How many steps each document has, how many of them left a text, and the last of those."""
        for key, (steps, texts, last) in self._documents.items():
            question = "SELECT steps, texts, last FROM documents WHERE key = ?"
            before = self.db.execute(question, (key,)).fetchone() or (0, 0, -1)
            row = (key, before[0] + steps, before[1] + texts, max(before[2], last))
            values = (*row, sum_of(row))
            self.db.execute("INSERT OR REPLACE INTO documents VALUES (?, ?, ?, ?, ?)", values)
        self._documents = {}

    # what changed

    def _rows(self, saved: Saved, touched: Touched) -> list[tuple[str, str | None, str | None]]:
        """Changes of values of one document by one commit, spelt."""
        if len(touched.olds) == 1 and touched.olds[0] and touched.new:
            if touched.olds[0] == touched.new:
                return []
            quick = self._kept.quick_change(touched.olds[0], touched.new)
            if quick is not None:
                return _compared([quick[0]], quick[1])
        new = self._spelt(touched.path, touched.new)
        if new is None:
            return []  # no TOML at all: the next readable text tells what changed
        olds = [self._old(saved, touched, n) for n in range(len(touched.olds))]
        return _compared(olds, new)

    def _spelt(self, path: str, blob: str) -> Spelt | None:
        if not blob:
            return {}
        quick = self._kept.read(blob)
        return quick if quick is not None else spelt_slowly(self._texts.values(path, blob))

    def _old(self, saved: Saved, touched: Touched, n: int) -> Spelt:
        found = self._spelt(touched.path, touched.olds[n])
        if found is None:
            self._flush()
            finish(self.db)  # this looks far back
            last = self._attribution.last_readable(saved.parents[n], touched.key)
            found = self._spelt(touched.path, last)
        return found or {}

    # what attribution asks

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever stood."""
        found = self._homes.get(key, set())
        if not self._anew:
            question = "SELECT DISTINCT text FROM steps JOIN words ON w = path WHERE key = ?"
            rows = self.db.execute(question, (self._word(key),))
            found = found | {from_word(word) for (word,) in rows}
        return found

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""
        row = self.db.execute(
            "SELECT parents FROM saves WHERE id = ?", (bytes.fromhex(commit),)
        ).fetchone()
        return unpack_ids(row[0], self._width)

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document, None where it gave none."""
        row = self.db.execute(
            "SELECT new FROM saves JOIN steps USING (n) WHERE id = ? AND key = ?",
            (bytes.fromhex(commit), self._word(key)),
        ).fetchone()
        return None if row is None else unpack_ids(row[0], self._width)[0]


def _compared(olds: list[Spelt], new: Spelt) -> list[tuple[str, str | None, str | None]]:
    first, others = olds[0], olds[1:]
    found = []
    for a in order_of_addresses(new, cast("list[Mapping[str, object]]", olds)):
        was, now = first.get(a), new.get(a)
        if was != now and canonical_text.differ(was, now):
            if others and not all(canonical_text.differ(old.get(a), now) for old in others):
                continue
            found.append((a, was, now))
    return found


class _Blobs:
    """Texts that were read lately, by their blobs; the rest comes from git."""

    def __init__(self, git: Git) -> None:
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
