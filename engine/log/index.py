"""The fast way of knowing the past: an index of every change, kept in the person's own cache.

It answers what `walk` answers. What stands in the file and does not agree with
itself raises `Damaged`, and whoever asks goes by the walk. It never guesses: a
head that does not descend from the one it knows is said in `rewritten`, and all is
read anew.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from math import inf
from operator import itemgetter
from pathlib import Path
from typing import Any

from engine.log import index_file
from engine.log.ancestry import in_line, past_of, stood_in
from engine.log.clocks import Clock, Jumps
from engine.log.commits import UNREADABLE, ChangeQuery, DocumentChange, Saved, ValueChange
from engine.log.index_builder import IndexBuilder, Progress
from engine.log.index_file import Damaged, Extent
from engine.log.index_outlines import Outline
from engine.log.index_rows import COMPRESSED, Change, pack_changes, pack_ids
from engine.log.index_tables import IndexTables, Row
from engine.repo.git import Git
from schemas.document import kind_of

_MOST_NUMBERS = 20_000
_A_FEW = 300  # saves, which are taken in as fast as a process starts
_AT_ONCE = 200  # steps of one document
_COMMIT = itemgetter(1)  # of a row of steps
_STEPS = Outline._fields.index("steps")
_UNREADABLE = pack_changes([Change(*UNREADABLE)])


class IndexedPast:
    """All commits up to `head`, and the life of every document, on disk."""

    def __init__(self, git: Git, file: Path, progress: Progress | None = None) -> None:
        self.git = git
        self.file = file
        self.head = ""
        self.rewritten = ""
        self.lost: dict[str, str] = {}  # tips that are not in the past of a head: of which book
        self._progress = progress
        self._db: sqlite3.Connection | None = None
        self._read: IndexTables | None = None
        self._numbers: dict[str, int] = {}  # of commits that were asked for
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
            self._numbers = {}
        self._extent = extent
        if self._read is not None:
            self._read.extent = extent

    def nearly_has(self, head: str) -> bool:
        """Whether the file knows the past of a head, but for a few saves that are read at once."""
        known = index_file.said(self.db).head
        if not known or known == head:
            return bool(known)
        there = self.git.object(known)[0] and self.git.is_ancestor(known, head)
        return bool(there) and len(self.git.commits(head, known)) <= _A_FEW

    def notice(self, head: str) -> None:
        """See whether a head descends from what is known, and read nothing."""
        extent = index_file.said(self.db)
        known = extent.head
        if not known or head in (self.head, known) or self._ahead(known, head):
            return
        lost = not self.git.object(known)[0]
        if lost or not self.git.is_ancestor(known, head):
            self.rewritten = _how(known, head, lost=lost)
            self.lost[known] = extent.book

    def _ahead(self, known: str, head: str) -> bool:
        """Whether the index is only further than a head that was read a moment ago."""
        now = self.git.head()
        if now == head or not self.git.object(known)[0]:
            return False
        return self.git.is_ancestor(head, known) and self.git.is_ancestor(known, now)

    def _take_in(self, head: str) -> None:
        extent = index_file.said(self.db)  # another process may have been faster
        known = extent.head
        if known == head:
            return
        lost = bool(known) and not self.git.object(known)[0]
        if known and not lost and self.git.is_ancestor(known, head):
            IndexBuilder(self.git, self.db).take(head, known, self._progress)
            return
        if known:
            self.rewritten = _how(known, head, lost=lost)
            self.lost[known] = extent.book
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
        for row in tables.steps_numbered(counts):
            if kind_of(tables.word(row[3])) == "record":
                found[tables.word(row[2])] = (counts[row[0]], tables.step(row))
        return found

    def last_with(self, texts: Mapping[str, str], commit: str) -> dict[str, tuple[str, str]]:
        """The last commit in the past of a given one that left each document with its text."""
        n, tables = self.order_of(commit), self.tables
        if n < 0:
            return {}
        holds, width = past_of(tables, n), tables.width
        given = {key: pack_ids([blob], width) for key, blob in texts.items()}
        found: dict[str, Row] = {}
        newest = [last for _, _, _, last in tables.documents_named(given) if last >= 0]
        for row in tables.steps_numbered(newest):
            key = tables.word(row[2])
            if row[5] == given[key] and holds(row[1]):
                found[key] = row
        for key, blob in given.items():
            if key not in found:
                rows = tables.steps_up_to(key, n)
                own = next((r for r in rows if r[5] == blob and holds(r[1])), None)
                if own is not None:
                    found[key] = own
        return {k: (tables.commit_id(row[1]), tables.word(row[3])) for k, row in found.items()}

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
        known = self._numbers.get(commit)
        if known is not None:
            return known
        try:
            oid = bytes.fromhex(commit)
        except ValueError:
            return -1
        row = self.db.execute("SELECT n FROM saves WHERE id = ?", (oid,)).fetchone()
        if row is not None:
            if self.tables.save(row[0]).id != commit:
                raise Damaged("a commit is another one")
            if len(self._numbers) >= _MOST_NUMBERS:
                self._numbers.clear()
            self._numbers[commit] = int(row[0])
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

    def has(self, commit: str) -> bool:
        """Whether a commit seems to be in the past of the head; git is not asked."""
        try:
            oid = bytes.fromhex(commit)
        except ValueError:
            return False
        return self.db.execute("SELECT 1 FROM saves WHERE id = ?", (oid,)).fetchone() is not None

    def known_at(self, commit: str) -> Callable[[str], bool]:
        """Whether a commit is a given one or in its past."""
        n = self.order_of(commit)
        if n < 0:
            return lambda _: False
        holds = past_of(self.tables, n)
        return lambda other: (m := self.order_of(other)) >= 0 and holds(m)

    def in_line(self, commits: Sequence[str]) -> bool:
        """Whether commits stand one on another, none side by side."""
        return in_line(self.tables, [self.order_of(commit) for commit in commits])

    def rank(self, commit: str) -> tuple[int, int]:
        """Sorts commits: parents before children, side by side by their clocks; -1 for none."""
        n = self.order_of(commit)
        return (self.tables.top(n) if n >= 0 else -1, n)

    def count(self) -> int:
        """How many commits there are."""
        return self._extent.commits

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so. Git lists them: here, one could be lost unseen."""
        found = self.git.commits_beginning(prefix)
        return sorted((c for c in found if self.order_of(c) >= 0), key=self.order_of)

    def _clock(self, now: datetime | None) -> Clock:
        head = self.order_of(self.head)
        return Clock(self.tables, head, now.timestamp() if now else None)

    def head_at(
        self, moment: datetime, now: datetime | None = None, *, doubtful: bool = False
    ) -> str:
        """What the head surely was at a moment, going back along first parents."""
        n = self._clock(now).head_at(moment.timestamp(), doubtful=doubtful)
        return self.tables.save(n).id if n >= 0 else ""

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""
        return self.tables.jumps()

    def is_ahead(self, now: datetime) -> bool:
        """Whether some stamp lies in the future."""
        return self._clock(now).is_ahead

    def ahead(self, now: datetime) -> list[str]:
        """Commits whose stamps lie in the future, oldest first."""
        return [self.tables.save(n).id for n in self._clock(now).ahead]

    def stood_in(
        self, changes: Sequence[tuple[str, str]], spans: Sequence[tuple[str, str]]
    ) -> list[list[int]]:
        """For each change, the spans in whose states it stood, by their places."""
        rows = [(self.order_of(commit), address) for commit, address in changes]
        ends = [(self.order_of(s), self.order_of(e or self.head)) for s, e in spans]
        return stood_in(self.tables, rows, ends)

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first."""
        told, wanted = within.encode("utf-8", "replace"), ChangeQuery(covers=covers)
        return [
            row
            for step in self.tables.steps_of(key)
            if told in step[6] or step[6][:1] == COMPRESSED or step[6] == _UNREADABLE
            for row in self.tables.changes(step, wanted)
        ]

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values of records, cells, people and book, newest first.

        Those of one commit are all read before the first is given.
        """
        tables = self.tables
        for rows in self._of_document(wanted) if wanted.key else self._of_all(wanted):
            tables.look_up({row[1] for row in rows})
            for _, own in groupby(rows, _COMMIT):
                yield from [change for row in own for change in tables.changes(row, wanted)]

    def _of_document(self, wanted: ChangeQuery) -> Iterator[list[Row]]:
        """Rows of one document's steps, newest first, some at a time."""
        takes, outlines = self._takes(wanted), self.tables.outlines
        rows = [
            row for row in self.tables.steps_of(wanted.key) if takes(row[1], outlines.of(row[1]))
        ]
        for end in range(len(rows), 0, -_AT_ONCE):
            yield rows[max(end - _AT_ONCE, 0) : end][::-1]

    def _of_all(self, wanted: ChangeQuery) -> Iterator[list[Row]]:
        """Rows of the steps of wanted commits, newest first, some commits at a time."""
        takes, tables = self._takes(wanted), self.tables
        since = -inf if self._by_walk(wanted) else _seconds(wanted.since, -inf)
        for first, outlines in tables.outlines.newest_first(self._extent.commits, since):
            counts = {
                n: outline[_STEPS]
                for n, outline in enumerate(outlines, first)
                if outline[_STEPS] and takes(n, outline)
            }
            found = tables.steps_of_saves(counts) if counts else {}
            yield [row for n in reversed(counts) for row in found[n]]

    def _takes(self, wanted: ChangeQuery) -> Callable[[int, tuple[Any, ...]], bool]:
        """Whether a commit is wanted, by its number and outline."""
        since, until = _seconds(wanted.since, -inf), _seconds(wanted.until, inf)
        later, any_reason = self._later_than(wanted), not wanted.without_reason
        person, theirs = wanted.person, dict[int, bool]()

        def takes(n: int, outline: tuple[Any, ...]) -> bool:
            stamp, who, bare, _, top, *_ = outline
            if not (later(n) if later else top >= since) or stamp > until:
                return False
            if person and who not in theirs:
                theirs[who] = self.tables.who(who).key == person
            return (any_reason or bare) and (not person or theirs[who])

        return takes

    def _by_walk(self, wanted: ChangeQuery) -> bool:
        """Whether stamps do not tell alone which commits came after a moment."""
        return self._extent.behind > 0 or self._clock(wanted.now).is_ahead

    def _later_than(self, wanted: ChangeQuery) -> Callable[[int], bool] | None:
        """Whether a commit was not there before the moment since when changes are wanted.

        None where the latest stamps tell: none runs backwards, and none lies in the future.
        """
        if wanted.since is None or not self._by_walk(wanted):
            return None
        return self._clock(wanted.now).later_than(wanted.since.timestamp())

    def lives(self) -> dict[str, str]:
        """How far the past of each document goes, by key: count of its steps, and the last one."""
        return self.tables.lives()


def _seconds(moment: datetime | None, otherwise: float) -> float:
    return otherwise if moment is None else moment.timestamp()


def _how(known: str, head: str, *, lost: bool) -> str:
    """What became of the history that was known, in words."""
    if lost:
        return f"commit {known[:10]}, which was its head, is in it no longer"
    return f"its head {head[:10]} does not descend from {known[:10]}, which was the head before"
