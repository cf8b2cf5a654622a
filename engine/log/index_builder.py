"""Makes the index out of one stream of git's log and one stream of its objects.

Each commit is read once, parents first, and each text at most twice. Git works
on the next stretch while this one is taken in. What a commit changed is worked
out from the tables in which its text differs, where both texts are canonical,
and from all values otherwise: both give the same rows.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, NamedTuple

from engine.log import canonical_text
from engine.log.ancestry import apart
from engine.log.attribution import WITH_VALUES, Attribution, Touched, changed_against_all
from engine.log.canonical_text import Spelt
from engine.log.commits import UNREADABLE, Saved, read_saved
from engine.log.decisions import SideChange, decided_by_merge
from engine.log.document_cache import DocumentCache
from engine.log.index_file import Extent, add, said, say
from engine.log.index_rows import (
    Change,
    pack_changes,
    pack_ids,
    pack_marks,
    to_word,
    unpack_changes,
    unpack_ids,
)
from engine.log.index_tables import RECORD_KEYS, IndexTables
from engine.log.index_ways import GrowingWays
from engine.log.recent_texts import RecentTexts
from engine.repo.git import Git
from engine.repo.object_pipe import ObjectPipe, missing
from engine.repo.stream import Streamed, commits
from engine.views import Who
from schemas.document import kind_of

Changes = list[Change]
Progress = Callable[[int], None]  # how many commits were read; 0 when it is over

_STRETCH = 400  # commits
_ASKED = 1_000  # names in git's pipe at once


class Side(NamedTuple):
    """A step that not all parents of a merge know."""

    n: int  # of its commit
    who: int  # knows it: bit i for the i-th parent
    changes: bytes


class IndexBuilder:
    """Writes what is new into an index, in one transaction of the caller's."""

    def __init__(self, git: Git, db: sqlite3.Connection) -> None:
        self.git = git
        self.db = db
        self._kept = RecentTexts(git)
        self._texts = DocumentCache(self._kept)
        self._attribution = Attribution(git, self._texts, self)
        self._words: dict[str, int] = {}
        self._people: dict[Who, int] = {}
        self._homes: dict[str, set[str]] = {}  # of records, since this builder began
        known = said(db)
        self._next_word = known.words
        self._s = known.steps
        self._records, self._known_homes = known.records, known.homes
        self._born = known.born or secrets.token_hex(8)
        self._anew = not known.head
        self._saves: list[tuple[object, ...]] = []
        self._steps: list[tuple[Any, ...]] = []
        self._new_homes: list[tuple[int, int]] = []  # path, key
        self._first_steps = array("Q")  # where the steps of a commit begin, since this one began
        self._begins_at = known.commits
        self._sides: tuple[Sequence[str], dict[int, list[Side]]] = ((), {})  # of the last merge
        self._documents: dict[int, list[int]] = {}
        self._unreadable: dict[str, tuple[int, str]] = {}  # last step of a document; readable then
        self._attribution.twice.update(known.twice)
        self._width = len(known.head) // 2 or 20
        self._tables = IndexTables(db, self._width, known)
        self._ways = GrowingWays(self._tables, known)

    def take(self, head: str, known: str = "", progress: Progress | None = None) -> None:
        """Take in the past of `head`, without that of `known`."""
        self._width = self._tables.width = len(head) // 2
        objects = ObjectPipe(self.git, str(self.git.folder))
        stream = commits(self.git, head, *([f"^{known}"] if known else []))
        try:
            for stretch in self._stretches(stream, objects):
                for one in stretch:
                    self._take_in(one)
                self._flush()
                if progress is not None:
                    progress(self._ways.count)
        finally:
            if progress is not None:
                progress(0)
            objects.close()
            stream.close()  # type: ignore[attr-defined]
        self._count_documents()
        twice = tuple(sorted(self._attribution.twice))
        ways = self._ways
        sizes = (ways.count, self._s, self._next_word, self._records, self._known_homes)
        jumps = (ways.jumped, ways.jumps, ways.behind)
        say(self.db, Extent(head, self._born, *sizes, twice, *jumps, self._book(head)))

    def _book(self, head: str) -> str:
        """The identity of the book at a head; empty where its file does not say."""
        blob = self.git.blob_at(head, "book.toml")
        values = self._texts.values("book.toml", blob) or {}
        return str(values.get("book.id", ""))

    def _stretches(
        self, stream: Iterator[Streamed], objects: ObjectPipe
    ) -> Iterator[list[Streamed]]:
        """Commits a stretch at a time, their texts at hand; git reads on meanwhile."""
        now = list(islice(stream, _STRETCH))
        asked = self._ask(now, objects)
        while now:
            self._take_texts(asked, objects)
            later = list(islice(stream, _STRETCH))
            asked = self._ask(later, objects)
            yield now
            now = later

    def _ask(self, stretch: list[Streamed], objects: ObjectPipe) -> list[str]:
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
            self._take_texts(now, objects)
        objects.ask(names)
        return names

    def _take_texts(self, names: list[str], objects: ObjectPipe) -> None:
        for name in names:
            found, data = objects.take()
            if not found:
                raise missing(name, str(self.git.folder))
            self._kept.put(name, data)

    def _take_in(self, one: Streamed) -> None:
        saved, before = read_saved(one.raw, self._after_sums), self._s
        row = self._save_row(saved)
        self._saves.append(row)
        self._first_steps.append(before)
        for touched in self._attribution.touched(one):
            if kind_of(touched.path) in WITH_VALUES:
                changes = pack_changes(self._rows(saved, touched))
                if self._unreadable.get(touched.key, (-1, ""))[0] < self._ways.count:
                    self._unreadable.pop(touched.key, None)
            else:
                changes = b""
            self._add(touched, changes)
        self._ways.append(saved, row[3], self._s - before)

    def _after_sums(self, commit: str) -> bool:
        """Whether a commit that was taken in has a check sum in it or in its past."""
        return self._ways.saved(self._ways.number(commit)).summed

    def _save_row(self, saved: Saved) -> tuple[Any, ...]:
        offset = saved.when.utcoffset()
        return (
            self._ways.count,
            bytes.fromhex(saved.id),
            pack_ids(saved.parents, self._width),
            self._who(saved.who),
            int(saved.when.timestamp()),
            int(offset.total_seconds()) if offset else 0,
            saved.subject,
            saved.reason,
            saved.kind,
            saved.draft,
            pack_marks(whole=saved.whole, summed=saved.summed),
            saved.stamp,
        )

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
        self._steps.append((self._s, self._ways.count, key, path, olds, new, changes))
        counts = self._documents.setdefault(key, [0, 0, -1])
        counts[0] += 1
        if touched.new:
            counts[1] += len(touched.olds) < 2 or touched.new not in touched.olds
            counts[2] = self._s
        if touched.key.startswith(RECORD_KEYS):
            self._note_home(touched, key, path)
        self._s += 1

    def _note_home(self, touched: Touched, key: int, path: int) -> None:
        homes = self._homes.setdefault(touched.key, set())
        if touched.path in homes:
            return
        homes.add(touched.path)
        if self._anew or not self._tables.is_home(path, key):
            self._new_homes.append((path, key))
            self._known_homes += 1

    def _word(self, text: str) -> int:
        """The number of a word, a new one where it has none."""
        known = self._words.get(text)
        if known is None:
            known = -1 if self._anew else self._tables.number(text)
            if known < 0:
                known = self._next_word
                self._next_word += 1
                add(self.db, "words", [(known, to_word(text))])
            self._words[text] = known
        return known

    def _flush(self) -> None:
        add(self.db, "saves", self._saves)
        add(self.db, "steps", self._steps)
        add(self.db, "homes", self._new_homes)
        self._ways.flush()
        self._saves, self._steps, self._new_homes = [], [], []

    def _count_documents(self) -> None:
        """How many steps each document has, how many of them left a text, and the last of those."""
        rows: list[tuple[object, ...]] = []
        for key, (steps, texts, last) in self._documents.items():
            known = None if self._anew else self._tables.document(key)
            before = known[1:] if known else (0, 0, -1)
            self._records += not known and self._tables.word(key).startswith(RECORD_KEYS)
            rows.append((key, before[0] + steps, before[1] + texts, max(before[2], last)))
        add(self.db, "documents", rows)
        self._documents = {}

    # what changed

    def _rows(self, saved: Saved, touched: Touched) -> Changes:
        """Changes of values of one document by one commit, spelt."""
        if touched.olds == (touched.new,):
            return []
        if touched.new and all(touched.olds):
            quick = self._kept.quick_change(kind_of(touched.path), touched.olds, touched.new)
            if quick is not None:
                return [*_compared(*quick), *self._decided(saved, touched.key, *quick)]
        new = self._spelt(touched.path, touched.new)
        unreadable = new is None and touched.new not in touched.olds
        told = [Change(*UNREADABLE)] if unreadable else []
        if new is None and len(touched.olds) == 1:
            last = self._readable(saved, touched, 0)
            self._unreadable[touched.key] = (self._ways.count, last)
            return told  # no TOML at all: the next readable text tells what changed
        olds = [self._old(saved, touched, n) for n in range(len(touched.olds))]
        if new is None:
            new = olds[0]  # of a merge: what its first parent last said counts
        return [*told, *_compared(olds, new), *self._decided(saved, touched.key, olds, new)]

    def _decided(self, saved: Saved, key: str, olds: list[Spelt], new: Spelt) -> Changes:
        """What a merge decided between its sides."""
        if len(olds) < 2:
            return []
        changes = [
            SideChange(
                side.who,
                change.address,
                change.new,
                change.decided.kept if change.decided else self._ways.saved(side.n).id,
            )
            for side in self._steps_apart(saved.parents, key)
            for change in unpack_changes(side.changes)
        ]
        found = decided_by_merge(olds, new, changes, canonical_text.differ)
        return [Change(*row) for row in found]

    def _spelt(self, path: str, blob: str) -> Spelt | None:
        if not blob:
            return {}
        if self._texts.is_broken(blob):
            return None
        quick = self._kept.read(kind_of(path), blob)
        return quick if quick is not None else self._texts.spelt_in_full(path, blob)

    def _old(self, saved: Saved, touched: Touched, n: int) -> Spelt:
        return self._spelt(touched.path, self._readable(saved, touched, n)) or {}

    def _readable(self, saved: Saved, touched: Touched, n: int) -> str:
        """The text of a document in a parent, or the last on the way there that is TOML."""
        old = touched.olds[n]
        if self._spelt(touched.path, old) is not None:
            return old
        parent = saved.parents[n]
        broken, last = self._unreadable.get(touched.key, (-1, ""))
        if broken >= 0 and self._ways.is_on_line(broken, self._ways.number(parent)):
            return last
        return self._attribution.last_readable(parent, touched.key)

    # what attribution asks

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever stood."""
        found = self._homes.get(key, set())
        if not self._anew:
            rows = self._tables.steps_of(key)
            found = found | {self._tables.word(row[3]) for row in rows}
        return found

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""
        return self._ways.saved(self._ways.number(commit)).parents

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document, None where it gave none."""
        rows = self._steps_of(self._ways.number(commit))
        texts = [row[5] for row in rows if row[2] == self._word(key)]
        return unpack_ids(texts[0], self._width)[0] if texts else None

    def sides(self, parents: Sequence[str], key: str) -> Iterable[int]:
        """For each change of a document that not all parents know: who does (bit n: the n-th)."""
        return [side.who for side in self._steps_apart(parents, key)]

    def _steps_apart(self, parents: Sequence[str], key: str) -> Sequence[Side]:
        """The steps of a document that not all parents of a merge know, oldest first."""
        if self._sides[0] != parents:
            found: dict[int, list[Side]] = {}
            numbers = [self._ways.number(parent) for parent in parents]
            for n, who in apart(self._ways, numbers).items():
                for row in self._steps_of(n):
                    found.setdefault(row[2], []).append(Side(n, who, row[6]))
            self._sides = (parents, found)
        return self._sides[1].get(self._word(key), ())

    def _steps_of(self, n: int) -> list[tuple[Any, ...]]:
        """The rows of a commit's steps, written or still to be, or some of them each."""
        if n < self._begins_at:
            return self._tables.steps_of_save(n, self._ways.steps(n))
        first = self._first_steps[n - self._begins_at]
        end = first + self._ways.steps(n)
        written = self._steps[0][0] if self._steps else self._s
        pending = self._steps[max(first - written, 0) : max(end - written, 0)]
        if first >= written:
            return pending
        known = self._tables.steps("WHERE s >= ? AND s < ? ORDER BY s", (first, min(end, written)))
        return [*known, *pending]


def _compared(olds: list[Spelt], new: Spelt) -> Changes:
    return [Change(*row) for row in changed_against_all(olds, new, canonical_text.differ)]
