"""The fast way of knowing the past: an index of every change, kept in the person's own cache.

It answers what `plain` answers. Each row carries a check sum, and each document
the number of its rows: one that does not agree raises `Damaged`, and whoever asks
goes the plain way. It never guesses: a head that does not descend from the one it
knows is said in `rewritten`, and all is read anew.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from engine.log import index_file
from engine.log.canonical_text import unspell
from engine.log.commits import ChangeQuery, DocumentChange, Saved, ValueChange
from engine.log.index_builder import IndexBuilder, Progress
from engine.log.index_file import Damaged
from engine.log.index_rows import (
    COMPRESSED,
    from_word,
    sum_of_step,
    to_word,
    unpack_changes,
    unpack_ids,
)
from engine.repo.git import Git
from engine.views import Who
from schemas.document import kind_of

_STEP = "s, n, key, path, olds, new, changes, sum"
_STRETCH = 2_000  # commits
_MOST_KEPT = 5_000  # commits in memory


class IndexedPast:
    """All commits up to `head`, and the life of every document, on disk."""

    def __init__(self, git: Git, file: Path, progress: Progress | None = None) -> None:
        self.git = git
        self.file = file
        self.head = ""
        self.rewritten = ""
        self._progress = progress
        self._db: sqlite3.Connection | None = None
        self._saves: dict[int, Saved] = {}
        self._words: dict[int, str] = {}
        self._strangers: set[str] = set()  # commits that git does not have up to `head` either
        self._count = 0
        self._width = 20

    @property
    def db(self) -> sqlite3.Connection:
        """The open index."""
        if self._db is None:
            self._db = index_file.open_file(self.file)
        return self._db

    def close(self) -> None:
        """Let the file go."""
        if self._db is not None:
            self._db.close()
            self._db = None

    # keeping up

    def refresh(self, head: str) -> None:
        """Take in what is new up to `head`; all of it if the past was rewritten."""
        if head == self.head:
            return
        known = index_file.said(self.db).get("head", "")
        if known != head and not (known and self._ahead(known, head)):
            with index_file.changing(self.db):
                self._take_in(head)
        self._width = len(head) // 2
        self._count = int(self._one("SELECT count(*), max(n) + 1 FROM saves", (), same=True))
        self._strangers = set()
        self.head = head

    def notice(self, head: str) -> None:
        """See whether a head descends from what is known, and read nothing."""
        known = index_file.said(self.db).get("head", "")
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
        known = index_file.said(self.db).get("head", "")  # another process may have been faster
        if known == head:
            return
        lost = bool(known) and not self.git.object(known)[0]
        if known and not lost and self.git.is_ancestor(known, head):
            IndexBuilder(self.git, self.db).take(head, known, self._progress)
            return
        if known:
            self.rewritten = _how(known, head, lost=lost)
        index_file.empty(self.db)
        self._saves, self._words = {}, {}
        IndexBuilder(self.git, self.db).take(head, "", self._progress)
        index_file.finish(self.db)

    # reading rows

    def _one(self, question: str, given: tuple[object, ...] = (), *, same: bool = False) -> Any:
        """The one row's only value; `same`: its two values must agree."""
        row = self.db.execute(question, given).fetchone()
        if row is None or (same and row[0] != row[1]):
            raise Damaged("a count does not agree")
        return row[0]

    def _word(self, w: int) -> str:
        if w not in self._words:
            row = self.db.execute("SELECT * FROM words WHERE w = ?", (w,)).fetchone()
            if row is None or index_file.sum_of(row[:2]) != row[2]:
                raise Damaged("a word's sum does not agree")
            self._words[w] = from_word(row[1])
        return self._words[w]

    def _number(self, text: str) -> int:
        """The number of a word; -1 where it is none."""
        word = (to_word(text),)
        row = self.db.execute("SELECT w FROM words WHERE text = ?", word).fetchone()
        if row is None:  # never said without a look at each
            row = self.db.execute("SELECT w FROM words NOT INDEXED WHERE text = ?", word).fetchone()
        if row is not None and self._word(row[0]) != text:
            raise Damaged("a word is another one")
        return -1 if row is None else int(row[0])

    def _saved(self, n: int) -> Saved:
        found = self._saves.get(n)
        if found is None:
            row = self.db.execute("SELECT * FROM saves WHERE n = ?", (n,)).fetchone()
            if row is None:
                raise Damaged("a commit is missing")
            found = self._read_save(row)
        return found

    def _read_save(self, row: tuple[Any, ...]) -> Saved:
        if index_file.sum_of(row[:-1]) != row[-1]:
            raise Damaged("a commit's sum does not agree")
        n, oid, parents, who, at, zone, subject, reason, kind, draft, whole, _ = row
        found = Saved(
            oid.hex(),
            unpack_ids(parents, self._width),
            Who(*json.loads(self._word(who))),
            datetime.fromtimestamp(at, timezone(timedelta(seconds=zone))),
            subject,
            reason,
            kind,
            draft,
            bool(whole),
        )
        if len(self._saves) >= _MOST_KEPT:
            self._saves.clear()
        self._saves[n] = found
        return found

    def _steps(self, rest: str, given: tuple[object, ...]) -> list[tuple[Any, ...]]:
        """Rows of steps, their sums looked at."""
        rows = self.db.execute(f"SELECT {_STEP} FROM steps {rest}", given).fetchall()
        for s, n, key, path, olds, new, changes, check in rows:
            if sum_of_step(s, n, key, path, olds + new, changes) != check:
                raise Damaged("a step's sum does not agree")
        return rows

    def _steps_of(self, key: str) -> list[tuple[Any, ...]]:
        w = self._number(key)
        row = self.db.execute("SELECT * FROM documents WHERE key = ?", (w,)).fetchone()
        rows = self._steps("WHERE key = ? ORDER BY s", (w,))
        count = self._counted(row)[1] if row else 0
        if len(rows) != count or any(step[2] != w for step in rows):
            raise Damaged("a document's steps are not all there")
        return rows

    @staticmethod
    def _counted(row: tuple[Any, ...]) -> tuple[Any, ...]:
        if index_file.sum_of(row[:-1]) != row[-1]:
            raise Damaged("a document's sum does not agree")
        return row

    def _step(self, row: tuple[Any, ...]) -> DocumentChange:
        _, n, _, path, olds, new, _, _ = row
        width = self._width
        return DocumentChange(
            self._saved(n),
            self._word(path),
            unpack_ids(olds, width),
            unpack_ids(new, width)[0],
        )

    def _rows(self, row: tuple[Any, ...], covers: Callable[[str], bool]) -> Iterator[ValueChange]:
        for address, old, new in unpack_changes(row[6]):
            if covers(address):
                yield ValueChange(
                    self._saved(row[1]),
                    self._word(row[2]),
                    self._word(row[3]),
                    address,
                    None if old is None else unspell(old),
                    None if new is None else unspell(new),
                )

    # what people ask

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""
        return [self._step(row) for row in self._steps_of(key)]

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many there were."""
        found = {}
        records = "SELECT w FROM words WHERE text GLOB 'wm-*' OR text GLOB 'records/*'"
        rows = self.db.execute(f"SELECT * FROM documents WHERE key IN ({records})").fetchall()
        counts = {last: texts for _, _, texts, last, _ in map(self._counted, rows) if texts}
        given = json.dumps(list(counts))
        for row in self._steps("WHERE s IN (SELECT value FROM json_each(?))", (given,)):
            if kind_of(self._word(row[3])) == "record":
                found[self._word(row[2])] = (counts[row[0]], self._step(row))
        return found

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        question = "SELECT 1 FROM documents WHERE key = ?"
        return self.db.execute(question, (self._number(key),)).fetchone() is not None

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        n = self.order_of(commit)
        return None if n < 0 else self._saved(n)

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history; -1 where it does not."""
        try:
            oid = bytes.fromhex(commit)
        except ValueError:
            return -1
        row = self.db.execute("SELECT n FROM saves WHERE id = ?", (oid,)).fetchone()
        if row is not None:
            if self._saved(row[0]).id != commit:
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
        return self._count

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        full = 2 * self._width
        span = (
            bytes.fromhex(prefix[:full].ljust(full, "0")),
            bytes.fromhex(prefix[:full].ljust(full, "f")),
        )
        rows = self.db.execute("SELECT id FROM saves WHERE id BETWEEN ? AND ? ORDER BY n", span)
        return [oid.hex() for (oid,) in rows.fetchall()]

    def head_at(self, moment: datetime) -> str:
        """What the head was at a moment, going back along first parents."""
        commit = self.head
        while commit:
            question = "SELECT at, parents FROM saves WHERE id = ?"
            row = self.db.execute(question, (bytes.fromhex(commit),)).fetchone()
            if row is None:
                raise Damaged("a commit is missing")
            if row[0] <= moment.timestamp():
                return commit
            commit = row[1][: self._width].hex()
        return ""

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first."""
        told = within.encode("utf-8", "replace")
        return [
            row
            for step in self._steps_of(key)
            if told in step[6] or step[6][:1] == COMPRESSED
            for row in self._rows(step, covers)
        ]

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values of records, cells, people and book, newest first."""
        covers = wanted.covers or (lambda _: True)
        end = self._count
        whose = self._signatures_of(wanted.person)
        while end > 0:
            for n in self._wanted_saves(end, wanted, whose):
                for row in self._steps("WHERE n = ? ORDER BY s", (n,)):
                    if wanted.key in ("", self._word(row[2])):
                        yield from self._rows(row, covers)
            end -= _STRETCH

    def _signatures_of(self, person: str) -> str:
        """Numbers of the words that name a person, as a list that SQLite can read."""
        rows = self.db.execute("SELECT w, text FROM words WHERE text GLOB '[[]\"*'").fetchall()
        return json.dumps([w for w, text in rows if person and json.loads(text)[0] == person])

    def _wanted_saves(self, end: int, wanted: ChangeQuery, whose: str) -> list[int]:
        """Numbers of wanted commits of one stretch, newest first."""
        question = "SELECT n FROM saves WHERE n >= ? AND n < ? "
        given: list[object] = [end - _STRETCH, end]
        for limit, sign in ((wanted.since, ">="), (wanted.until, "<=")):
            if limit is not None:
                question += f"AND at {sign} ? "
                given.append(limit.timestamp())
        if wanted.without_reason:
            question += "AND reason = '' "
        if wanted.person:
            question += "AND who IN (SELECT value FROM json_each(?)) "
            given.append(whose)
        rows = self.db.execute(question + "ORDER BY n DESC", given).fetchall()
        return [n for (n,) in rows]

    # answers that were worked out from history, and hold for ever

    def recall(self, prefix: str) -> dict[str, str]:
        """What was kept under names that begin so."""
        rows = self.db.execute(
            "SELECT name, text, sum FROM kept WHERE name >= ? AND name < ?",
            (prefix, prefix + "\U0010ffff"),
        ).fetchall()
        return {
            name: text for name, text, check in rows if index_file.sum_of((name, text)) == check
        }

    def keep(self, found: dict[str, str]) -> None:
        """Keep answers that can never become wrong, by names that say all they depend on."""
        rows = [(name, text, index_file.sum_of((name, text))) for name, text in found.items()]
        with index_file.changing(self.db):
            self.db.executemany("INSERT OR REPLACE INTO kept VALUES (?, ?, ?)", rows)


def _how(known: str, head: str, *, lost: bool) -> str:
    """What became of the history that was known, in words."""
    if lost:
        return f"commit {known[:10]}, which was its head, is in it no longer"
    return f"its head {head[:10]} does not descend from {known[:10]}, which was the head before"
