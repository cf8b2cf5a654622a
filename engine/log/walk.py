"""The plain way of knowing the past: git and nothing else, all of it read at once.

Slow, and the oracle of the fast way. Nothing is kept on disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

from engine.log.attribution import WITH_VALUES, Attribution, changed_against_all, differ
from engine.log.commits import ChangeQuery, DocumentChange, Saved, ValueChange, read_saved
from engine.log.document_cache import DocumentCache
from engine.repo.git import Git
from engine.repo.stream import Streamed, commits
from schemas.document import kind_of


class WalkedPast:
    """All commits up to `head`, and the life of every document, in memory."""

    def __init__(self, git: Git, texts: DocumentCache) -> None:
        self.git = git
        self.texts = texts
        self.head = ""
        self.rewritten = ""
        self._answers: dict[str, str] = {}
        self._forget()

    def _forget(self) -> None:
        self._saves: list[Saved] = []
        self._order: dict[str, int] = {}
        self._lives: dict[str, list[DocumentChange]] = {}
        self._texts_after: dict[tuple[str, str], str] = {}
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
        for touched in self._attribution.touched(one):
            step = DocumentChange(saved, touched.path, touched.olds, touched.new)
            self._lives.setdefault(touched.key, []).append(step)
            self._texts_after[saved.id, touched.key] = touched.new

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
                found[key] = (len(kept), kept[-1])
        return found

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

    def count(self) -> int:
        """How many commits there are."""
        return len(self._saves)

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        return [commit for commit in self._order if commit.startswith(prefix)]

    def head_at(self, moment: datetime) -> str:
        """What the head was at a moment, going back along first parents."""
        commit = self.head
        while commit:
            saved = self._saves[self._order[commit]]
            if saved.when <= moment:
                return commit
            commit = saved.parents[0] if saved.parents else ""
        return ""

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
        for saved in reversed(self._saves):
            if wanted.takes(saved):
                for key, step in by_commit.get(saved.id, ()):
                    yield from self._rows_of(key, step, covers)

    def _rows_of(
        self, key: str, step: DocumentChange, covers: Callable[[str], bool]
    ) -> Iterator[ValueChange]:
        new = self.texts.values(step.path, step.new)
        if new is None:
            return  # no TOML at all: the next readable text tells what changed
        parents = step.saved.parents
        olds = self._attribution.values_before(key, step.path, parents, step.olds)
        for address, old, now in changed_against_all(olds, new, differ, covers):
            yield ValueChange(step.saved, key, step.path, address, old, now)

    def recall(self, prefix: str) -> dict[str, str]:
        """Answers that were kept, while this lives."""
        return {name: text for name, text in self._answers.items() if name.startswith(prefix)}

    def keep(self, found: dict[str, str]) -> None:
        """Keep answers."""
        self._answers |= found

    def close(self) -> None:
        """Nothing is held."""
