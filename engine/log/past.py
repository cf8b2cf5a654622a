"""The past of a book, as the book asks for it: known by the index, or else from git itself.

The index costs time where it is damaged, locked, read-only, older, or nowhere:
the answer then comes from the plain walk. Which of the two answered makes no
difference to anybody.
"""

from __future__ import annotations

import json
import logging
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import TypeVar

from engine.log import index_file
from engine.log.canonical_text import unspell
from engine.log.commits import (
    EMAIL_HOST,
    ChangeQuery,
    DocumentChange,
    PastSource,
    Saved,
    ValueChange,
)
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.index_builder import Progress
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from schemas.address import Value
from schemas.document import Document
from schemas.errors import WitnessmarkError

__all__ = ["EMAIL_HOST", "ChangeQuery", "DocumentChange", "Past", "Saved", "ValueChange"]

NO_INDEX = "WITNESSMARK_NO_INDEX"  # set: the plain walk only
A = TypeVar("A")
_KEYS = "keys"
_log = logging.getLogger(__name__)


class Past:
    """All commits up to `head`, and the life of every document."""

    def __init__(self, git: Git, progress: Progress | None = None) -> None:
        self.git = git
        self.texts = DocumentCache(git)
        self.head = ""
        self.rewritten = ""  # what became of the history that was known, in words
        self.progress = progress
        self._way: PastSource | None = None
        self._homes: dict[str, set[str]] = {}  # paths of documents that were looked for

    def refresh(self, head: str) -> None:
        """Take a head as the present one; what is new is read when somebody asks."""
        if head != self.head:
            self._homes = {}
            if self.head and not self.git.is_ancestor(self.head, head):
                self.rewritten = f"{self.head[:10]}, which was its head, is no longer in its past"
        self.head = head

    def notice(self) -> str:
        """What became of the history that was known before, in words, or nothing.

        Looks without reading: that is done when somebody asks for more.
        """
        try:
            if self._way is None:
                self._way = self._first_way()
            if isinstance(self._way, IndexedPast) and self.head:
                self._way.notice(self.head)
        except WitnessmarkError:
            raise
        except Exception as error:  # as below
            self._go_the_plain_way(error)
        self.rewritten = (self._way.rewritten if self._way else "") or self.rewritten
        return self.rewritten

    def _ask(self, question: Callable[[PastSource], A]) -> A:
        try:
            return question(self._ready())
        except WitnessmarkError:
            raise
        except Exception as error:  # what is damaged can go wrong in any way
            if isinstance(self._way, WalkedPast):
                raise
            self._go_the_plain_way(error)
            return question(self._ready())

    def _ready(self) -> PastSource:
        if self._way is None:
            self._way = self._first_way()
        if self._way.head != self.head and self.head:
            self._way.refresh(self.head)
            self.rewritten = self._way.rewritten or self.rewritten
        return self._way

    def _first_way(self) -> PastSource:
        if os.environ.get(NO_INDEX):
            return WalkedPast(self.git, self.texts)
        return IndexedPast(self.git, index_file.place_of(self.git.folder), self._tell)

    def _tell(self, count: int) -> None:
        if self.progress is not None:
            self.progress(count)

    def _go_the_plain_way(self, error: Exception) -> None:
        """The index cannot be had; one that is damaged is made anew the next time."""
        _log.warning("the index of values is not used: %s", error)
        assert self._way is not None
        known = self._way
        known.close()
        if not isinstance(error, sqlite3.OperationalError | OSError):
            index_file.throw_away(index_file.place_of(self.git.folder))
        self._way = WalkedPast(self.git, self.texts)
        self.rewritten = known.rewritten or self.rewritten

    # texts

    def key(self, path: str, blob: str) -> str:
        """What a document is: a record's id, or the name of any other document."""
        return self.texts.key(path, blob)

    def keys(self, files: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        """The same for many texts, by (path, blob); a text that was seen before is not read."""
        wanted = list(files)
        kept = self.recall(_KEYS).get(_KEYS)
        known: dict[str, str] = json.loads(kept) if kept else {}
        found, fresh = {}, False
        for path, blob in wanted:
            key = known.get(f"{blob} {path}")
            fresh |= key is None
            found[path, blob] = self.key(path, blob) if key is None else key
        if fresh or len(known) > len(found):
            named = {f"{blob} {path}": key for (path, blob), key in found.items()}
            self.keep({_KEYS: json.dumps(named, ensure_ascii=True)})
        return found

    def document(self, path: str, blob: str) -> Document:
        """A document by its blob. ReadError where that text cannot be used."""
        return self.texts.document(path, blob)

    def values(self, path: str, blob: str) -> dict[str, Value] | None:
        """Every value of a document by address; None where it is no TOML at all."""
        return self.texts.values(path, blob)

    def value(self, path: str, blob: str, address: str) -> Value | None:
        """One value of a text, without keeping the rest."""
        spelt = self.texts.spelt(path, blob) or {}
        return unspell(spelt[address]) if address in spelt else None

    def place_at(self, commit: str, key: str, near: str = "") -> tuple[str, str]:
        """(path, blob) of a document in a commit; ("", "") where it was not in it.

        Looked for at the paths where it ever stood (and at `near`); a record that
        stands twice is the one at its first path.
        """
        files = self.git.tree(commit)
        if key not in self._homes:
            self._homes[key] = {step.path for step in self.life(key)}
        paths = self._homes[key] | ({near} if near else set())
        found = sorted(
            (path, files[path])
            for path in paths
            if path in files and self.key(path, files[path]) == key
        )
        return found[0] if found else ("", "")

    # history

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""
        return self._ask(lambda way: way.life(key))

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many there were."""
        return self._ask(lambda way: way.last_steps())

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        return self._ask(lambda way: way.knows(key))

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        return self._ask(lambda way: way.saved(commit))

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history, from 0; -1 where it does not."""
        return self._ask(lambda way: way.order_of(commit))

    def count(self) -> int:
        """How many commits there are."""
        return self._ask(lambda way: way.count())

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        return self._ask(lambda way: way.commits_beginning(prefix))

    def head_at(self, moment: datetime) -> str:
        """What the head was at a moment, going back along first parents; "" before the first."""
        return self._ask(lambda way: way.head_at(moment))

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first.

        `within`: text that every covered address has; it only makes the answer faster.
        """
        return self._ask(lambda way: way.rows(key, covers, within))

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values in the whole book, newest first."""
        given = 0
        while True:
            try:
                for n, row in enumerate(self._ready().rows_of_all(wanted)):
                    if n >= given:
                        given += 1
                        yield row
                return
            except WitnessmarkError:
                raise
            except Exception as error:  # as above
                if isinstance(self._way, WalkedPast):
                    raise
                self._go_the_plain_way(error)

    def after(self, base: str) -> set[str]:
        """Commits that are in the past of the head but not in that of `base`."""
        if base == self.head:
            return set()
        known = self.order_of(base) >= 0
        span: Iterable[str] = (self.head, f"^{base}") if known else (self.head,)
        return set(self.git.run("rev-list", *span, "--").decode().split())

    def recall(self, prefix: str) -> dict[str, str]:
        """Answers that were kept under names that begin so."""
        return self._ask(lambda way: way.recall(prefix))

    def keep(self, found: dict[str, str]) -> None:
        """Keep answers that can never become wrong: their names say all they depend on."""
        try:
            if found:
                self._ready().keep(found)
        except (sqlite3.Error, OSError) as error:
            _log.info("answers are not kept: %s", error)

    def close(self) -> None:
        """Let files go."""
        if self._way is not None:
            self._way.close()
            self._way = None
