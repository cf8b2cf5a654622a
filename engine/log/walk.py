"""The plain way of knowing the past: git and nothing else, all of it read at once.

Slow, and the oracle of the fast way. Nothing is kept on disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from engine.log.ancestry import apart, in_line, past_of, stood_in
from engine.log.attribution import WITH_VALUES, Attribution, changed_against_all, differ
from engine.log.clocks import Clock, Jumps
from engine.log.commits import (
    UNREADABLE,
    ChangeQuery,
    DocumentChange,
    Saved,
    ValueChange,
    read_saved,
)
from engine.log.decisions import SideChange, decided_by_merge
from engine.log.document_cache import DocumentCache
from engine.log.locations import is_record
from engine.log.walked_ways import WalkedWays
from engine.repo.git import Git
from engine.repo.stream import Streamed, commits
from schemas.address import Value
from schemas.document import kind_of


class WalkedPast:
    """All commits up to `head`, and the life of every document, in memory."""

    def __init__(self, git: Git, texts: DocumentCache) -> None:
        self.git = git
        self.texts = texts
        self.head = ""
        self.rewritten = ""
        self._forget()

    def _forget(self) -> None:
        self._saves: list[Saved] = []
        self._order: dict[str, int] = {}
        self._ways = WalkedWays()
        self._lives: dict[str, list[DocumentChange]] = {}
        self._texts_after: dict[tuple[str, str], str] = {}
        self._steps: list[dict[str, DocumentChange]] = []  # of each commit, by document
        self._merges: dict[tuple[str, str], list[ValueChange]] = {}  # what merges changed
        self._sides: tuple[Sequence[str], dict[int, int]] = ((), {})  # of the last merge
        self._attribution = Attribution(self.git, self.texts, self)

    def refresh(self, head: str) -> None:
        """Take in what is new up to `head`; all of it if the past was rewritten."""
        if head == self.head:
            return
        if self.head and not self.git.is_ancestor(self.head, head):
            self.rewritten = f"{self.head[:10]} is no longer in its past"
            self.head = ""
            self._forget()
        try:
            for one in commits(self.git, head, *([f"^{self.head}"] if self.head else [])):
                self._take_in(one)
        except BaseException:  # what was read half-way must not be taken in twice
            self.head = ""
            self._forget()
            raise
        self.head = head

    def _take_in(self, one: Streamed) -> None:
        saved = read_saved(one.raw, lambda parent: self._saves[self._order[parent]].summed)
        self._order[saved.id] = len(self._saves)
        self._saves.append(saved)
        self._ways.append(saved, [self._order[parent] for parent in saved.parents])
        steps: dict[str, DocumentChange] = {}
        self._steps.append(steps)
        for touched in self._attribution.touched(one):
            step = DocumentChange(saved, touched.path, touched.olds, touched.new)
            self._lives.setdefault(touched.key, []).append(step)
            self._texts_after[saved.id, touched.key] = touched.new
            steps[touched.key] = step
            if len(saved.parents) > 1 and kind_of(step.path) in WITH_VALUES:
                self._merges[saved.id, touched.key] = self._changes_of_merge(touched.key, step)

    # what attribution asks

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever stood."""
        return {step.path for step in self._lives.get(key, [])}

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""
        return self._saves[self._order[commit]].parents

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document, None where it gave none."""
        return self._texts_after.get((commit, key))

    def sides(self, parents: Sequence[str], key: str) -> Iterable[int]:
        """For each change of a document that not all parents know: who does (bit n: the n-th)."""
        return [side for _, side in self._steps_apart(parents, key)]

    def _steps_apart(self, parents: Sequence[str], key: str) -> list[tuple[DocumentChange, int]]:
        """The steps of a document that not all parents of a merge know, oldest first."""
        if self._sides[0] != parents:
            numbers = [self._order[parent] for parent in parents]
            self._sides = (parents, apart(self._ways, numbers))
        found = self._sides[1].items()
        return [(self._steps[n][key], side) for n, side in found if key in self._steps[n]]

    def _changes_of_merge(self, key: str, step: DocumentChange) -> list[ValueChange]:
        """What a merge changed by itself, and what it decided between its sides."""
        parents = step.saved.parents
        olds = self._attribution.values_before(key, step.path, parents, step.olds)
        new, told = self.texts.values(step.path, step.new), []
        if new is None:
            told = [UNREADABLE] if step.new not in step.olds else []
            new = olds[0]  # what its first parent last said counts
        changes: list[SideChange[Value]] = [
            SideChange(side, row.address, row.new, row.maker)
            for earlier, side in self._steps_apart(parents, key)
            for row in self._rows_of(key, earlier, lambda _: True)
        ]
        own = changed_against_all(olds, new, differ)
        decided = decided_by_merge(olds, new, changes, differ)
        return [
            *(ValueChange(step.saved, key, step.path, *row) for row in told),
            *(ValueChange(step.saved, key, step.path, *row) for row in own),
            *(ValueChange(step.saved, key, step.path, *row) for row in decided),
        ]

    # what people ask

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""
        return self._lives.get(key, [])

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many there were."""
        found = {}
        for key, steps in self._lives.items():
            kept = [step for step in steps if step.new]
            if kept and kind_of(kept[-1].path) == "record":
                found[key] = (sum(step.is_ink for step in kept), kept[-1])
        return found

    def last_with(self, texts: Mapping[str, str], commit: str) -> dict[str, tuple[str, str]]:
        """The last commit in the past of a given one that left each document with its text."""
        known, found = self.known_at(commit), {}
        for key, blob in texts.items():
            for step in self.life(key):
                if step.new == blob and known(step.saved.id):
                    found[key] = (step.saved.id, step.path)
        return found

    def documents(self) -> list[str]:
        """The keys of all documents that ever were, sorted."""
        return sorted(self._lives)

    def keys_at(self, path: str) -> list[str]:
        """The keys of all records that ever lay at a path, sorted."""
        return sorted(k for k in self._lives if is_record(k) and path in self.homes(k))

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        return key in self._lives

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        order = self._order.get(commit)
        return None if order is None else self._saves[order]

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history; -1 where it does not."""
        return self._order.get(commit, -1)

    def has(self, commit: str) -> bool:
        """Whether a commit is in the past of the head."""
        return self.order_of(commit) >= 0

    def known_at(self, commit: str) -> Callable[[str], bool]:
        """Whether a commit is a given one or in its past."""
        n = self.order_of(commit)
        if n < 0:
            return lambda _: False
        holds = past_of(self._ways, n)
        return lambda other: (m := self.order_of(other)) >= 0 and holds(m)

    def in_line(self, commits: Sequence[str]) -> bool:
        """Whether commits stand one on another, none side by side."""
        return in_line(self._ways, [self._order[commit] for commit in commits])

    def rank(self, commit: str) -> tuple[int, int]:
        """Sorts commits: parents before children, side by side by their clocks; -1 for none."""
        n = self.order_of(commit)
        return (self._ways.top(n) if n >= 0 else -1, n)

    def count(self) -> int:
        """How many commits there are."""
        return len(self._saves)

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        return [commit for commit in self._order if commit.startswith(prefix)]

    def _clock(self, now: datetime | None) -> Clock:
        return Clock(self._ways, len(self._saves) - 1, now.timestamp() if now else None)

    def head_at(
        self, moment: datetime, now: datetime | None = None, *, doubtful: bool = False
    ) -> str:
        """What the head surely was at a moment, going back along first parents."""
        n = self._clock(now).head_at(moment.timestamp(), doubtful=doubtful)
        return self._saves[n].id if n >= 0 else ""

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""
        return self._ways.jumps()

    def is_ahead(self, now: datetime) -> bool:
        """Whether some stamp lies in the future."""
        return self._clock(now).is_ahead

    def ahead(self, now: datetime) -> list[str]:
        """Commits whose stamps lie in the future, oldest first."""
        return [self._saves[n].id for n in self._clock(now).ahead]

    def stood_in(
        self, changes: Sequence[tuple[str, str]], spans: Sequence[tuple[str, str]]
    ) -> list[list[int]]:
        """For each change, the spans in whose states it stood, by their places."""
        rows = [(self._order[commit], address) for commit, address in changes]
        ends = [(self.order_of(s), self.order_of(e or self.head)) for s, e in spans]
        return stood_in(self._ways, rows, ends)

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first."""
        del within  # a hint for the index
        return [row for step in self.life(key) for row in self._rows_of(key, step, covers)]

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values of records, cells, people and book, newest first."""
        by_commit: dict[str, list[tuple[str, DocumentChange]]] = {}
        for key, steps in self._lives.items():
            for step in steps:
                if wanted.key in ("", key) and kind_of(step.path) in WITH_VALUES:
                    by_commit.setdefault(step.saved.id, []).append((key, step))
        covers = wanted.covers or (lambda _: True)
        later = self._later_than(wanted)
        for n in range(len(self._saves) - 1, -1, -1):
            saved = self._saves[n]
            if wanted.takes(saved) and later(n):
                for key, step in by_commit.get(saved.id, ()):
                    for row in self._rows_of(key, step, covers):
                        if not wanted.replaced or None not in (row.old, row.new):
                            yield row

    def _later_than(self, wanted: ChangeQuery) -> Callable[[int], bool]:
        """Whether a commit was not there before the moment since when changes are wanted."""
        if wanted.since is None:
            return lambda _: True
        return self._clock(wanted.now).later_than(wanted.since.timestamp())

    def _rows_of(
        self, key: str, step: DocumentChange, covers: Callable[[str], bool]
    ) -> Iterator[ValueChange]:
        if (step.saved.id, key) in self._merges:
            merged = self._merges[step.saved.id, key]
            yield from (row for row in merged if covers(row.address))
            return
        new = self.texts.values(step.path, step.new)
        if new is None:
            if step.new not in step.olds and covers(UNREADABLE[0]):
                yield ValueChange(step.saved, key, step.path, *UNREADABLE)
            return  # no TOML at all: the next readable text tells what changed
        parents = step.saved.parents
        olds = self._attribution.values_before(key, step.path, parents, step.olds)
        for address, old, now in changed_against_all(olds, new, differ, covers):
            yield ValueChange(step.saved, key, step.path, address, old, now)

    def lives(self) -> dict[str, str]:
        """How far the past of each document goes, by key: count of its steps, and the last one."""
        return {key: f"{len(steps)} {steps[-1].saved.id}" for key, steps in self._lives.items()}

    def close(self) -> None:
        """Nothing is held."""
