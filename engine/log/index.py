"""The fast way of knowing the past: an index of every change, kept in the person's own cache.

It answers what `walk` answers. What stands in the file and does not agree with
itself raises `Damaged`, and whoever asks goes by the walk. It never guesses: a
head that does not descend from the one it knows is said in `rewritten`, and all is
read anew.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import cache
from math import inf
from pathlib import Path

from engine.log import index_file
from engine.log.commits import UNREADABLE, ChangeQuery, DocumentChange, Saved, ValueChange
from engine.log.index_builder import IndexBuilder, Progress
from engine.log.index_file import Damaged, Extent
from engine.log.index_rows import COMPRESSED, pack_changes
from engine.log.index_tables import IndexTables
from engine.repo.git import Git
from schemas.document import kind_of

_UNREADABLE = pack_changes([UNREADABLE])


class IndexedPast:
    """All commits up to `head`, and the life of every document, on disk."""

    def __init__(self, git: Git, file: Path, progress: Progress | None = None) -> None:
        self.git = git
        self.file = file
        self.head = ""
        self.rewritten = ""
        self._progress = progress
        self._db: sqlite3.Connection | None = None
        self._read: IndexTables | None = None
        self._strangers: set[str] = set()  # commits that git does not have up to `head` either
        self._extent = Extent()

    @property
    def db(self) -> sqlite3.Connection:
        """The open index."""
        if self._db is None:
            self._db = index_file.open_file(self.file)
        return self._db

    @property
    def tables(self) -> IndexTables:
        """Its rows."""
        if self._read is None:
            self._read = IndexTables(self.db, len(self.head) // 2, self._extent)
        return self._read

    def close(self) -> None:
        """Let the file go."""
        if self._db is not None:
            self._db.close()
            self._db = self._read = None

    # keeping up

    def refresh(self, head: str) -> None:
        """Take in what is new up to `head`; all of it if the past was rewritten."""
        if head == self.head:
            return
        known = index_file.said(self.db).head
        if known != head and not (known and self._ahead(known, head)):
            with index_file.changing(self.db):
                self._take_in(head)
        self._hold_to(index_file.said(self.db))
        self._strangers = set()
        self.head = head

    def _hold_to(self, extent: Extent) -> None:
        """Expect so much of the index from now on; forget an older one's rows."""
        if extent.born != self._extent.born:
            self._read = None
        self._extent = extent
        if self._read is not None:
            self._read.extent = extent

    def notice(self, head: str) -> None:
        """See whether a head descends from what is known, and read nothing."""
        known = index_file.said(self.db).head
        if not known or head in (self.head, known) or self._ahead(known, head):
            return
        lost = not self.git.object(known)[0]
        if lost or not self.git.is_ancestor(known, head):
            self.rewritten = _how(known, head, lost=lost)

    def _ahead(self, known: str, head: str) -> bool:
        """Whether the index is only further than a head that was read a moment ago."""
        now = self.git.head()
        if now == head or not self.git.object(known)[0]:
            return False
        return self.git.is_ancestor(head, known) and self.git.is_ancestor(known, now)

    def _take_in(self, head: str) -> None:
        known = index_file.said(self.db).head  # another process may have been faster
        if known == head:
            return
        lost = bool(known) and not self.git.object(known)[0]
        if known and not lost and self.git.is_ancestor(known, head):
            IndexBuilder(self.git, self.db).take(head, known, self._progress)
            return
        if known:
            self.rewritten = _how(known, head, lost=lost)
        index_file.empty(self.db)
        IndexBuilder(self.git, self.db).take(head, "", self._progress)
        index_file.finish(self.db)

    # what people ask

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""
        return [self.tables.step(row) for row in self.tables.steps_of(key)]

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many there were."""
        found, tables = {}, self.tables
        counts = {last: texts for _, _, texts, last in tables.records() if texts}
        given = json.dumps(list(counts))
        rows = tables.steps("WHERE s IN (SELECT value FROM json_each(?))", (given,))
        if len(rows) != len(counts):
            raise Damaged("steps are not all there")
        for row in rows:
            if kind_of(tables.word(row[3])) == "record":
                found[tables.word(row[2])] = (counts[row[0]], tables.step(row))
        return found

    def documents(self) -> list[str]:
        """The keys of all documents that ever were, sorted."""
        return self.tables.documents()

    def keys_at(self, path: str) -> list[str]:
        """The keys of all records that ever lay at a path, sorted."""
        return self.tables.keys_at(path)

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        return bool(self.tables.steps_of(key))

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        n = self.order_of(commit)
        return None if n < 0 else self.tables.save(n)

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history; -1 where it does not."""
        try:
            oid = bytes.fromhex(commit)
        except ValueError:
            return -1
        row = self.db.execute("SELECT n FROM saves WHERE id = ?", (oid,)).fetchone()
        if row is not None:
            if self.tables.save(row[0]).id != commit:
                raise Damaged("a commit is another one")
            return int(row[0])
        if commit and commit not in self._strangers:
            if self._is_of_this_past(commit):
                raise Damaged("a commit is missing")
            self._strangers.add(commit)
        return -1

    def _is_of_this_past(self, commit: str) -> bool:
        """Asked of git itself: no commit is said to be unknown on the index's word alone."""
        found = self.git.object(commit)[0] == commit
        return found and self.git.is_ancestor(commit, self.head)

    def count(self) -> int:
        """How many commits there are."""
        return self._extent.commits

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so. Git lists them: here, one could be lost unseen."""
        found = self.git.commits_beginning(prefix)
        return sorted((c for c in found if self.order_of(c) >= 0), key=self.order_of)

    def head_at(self, moment: datetime) -> str:
        """What the head was at a moment, going back along first parents."""
        n, until = self.order_of(self.head), moment.timestamp()
        while n >= 0:
            outline = self.tables.outlines.of(n)
            if outline.at <= until:
                return self.tables.save(n).id
            n = outline.parent
        return ""

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first."""
        told = within.encode("utf-8", "replace")
        return [
            row
            for step in self.tables.steps_of(key)
            if told in step[6] or step[6][:1] == COMPRESSED or step[6] == _UNREADABLE
            for row in self.tables.changes(step, covers)
        ]

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values of records, cells, people and book, newest first.

        Those of one commit are all read before the first is given.
        """
        covers, tables = wanted.covers or (lambda _: True), self.tables
        for n, steps in self._wanted_saves(wanted):
            yield from [
                change
                for row in tables.steps_of_save(n, steps)
                if wanted.key in ("", tables.word(row[2]))
                for change in tables.changes(row, covers)
            ]

    def _wanted_saves(self, wanted: ChangeQuery) -> Iterator[tuple[int, int]]:
        """Numbers of wanted commits, newest first, and how many documents each changed."""
        since = wanted.since.timestamp() if wanted.since else -inf
        until = wanted.until.timestamp() if wanted.until else inf
        person, any_reason = wanted.person, not wanted.without_reason

        @cache
        def is_theirs(who: int) -> bool:
            return not person or self.tables.who(who).key == person

        for first, outlines in self.tables.outlines.newest_first(self._extent.commits):
            found = [
                (n, steps)
                for n, (at, who, bare, steps, _) in enumerate(outlines, first)
                if since <= at <= until and steps and (any_reason or bare) and is_theirs(who)
            ]
            yield from reversed(found)

    # answers that were worked out from history, and hold for ever

    def recall(self, prefix: str) -> dict[str, str]:
        """What was kept under names that begin so."""
        span = (prefix, prefix + "\U0010ffff")
        return dict(index_file.read(self.db, "kept", "WHERE name >= ? AND name < ?", span))

    def keep(self, found: dict[str, str]) -> None:
        """Keep answers that can never become wrong, by names that say all they depend on."""
        with index_file.changing(self.db):
            index_file.add(self.db, "kept", list(found.items()))


def _how(known: str, head: str, *, lost: bool) -> str:
    """What became of the history that was known, in words."""
    if lost:
        return f"commit {known[:10]}, which was its head, is in it no longer"
    return f"its head {head[:10]} does not descend from {known[:10]}, which was the head before"
