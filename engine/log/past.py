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
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TypeVar
from zlib import crc32

from engine.log import index_file, kept
from engine.log.attribution import LastReadable
from engine.log.clocks import Jumps
from engine.log.commits import (
    ChangeQuery,
    DocumentChange,
    PastSource,
    Saved,
    ValueChange,
)
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.index_builder import Progress
from engine.log.locations import Location, locate
from engine.log.one_order import OneOrder
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from schemas.address import Value
from schemas.document import Document
from schemas.errors import WitnessmarkError

__all__ = ["ChangeQuery", "DocumentChange", "Past", "Saved", "ValueChange"]

NO_INDEX = "WITNESSMARK_NO_INDEX"  # set: the plain walk only
A = TypeVar("A")
_KEYS = "keys/"
_log = logging.getLogger(__name__)


def _part_of(path: str) -> str:
    """Under which name the key of a text at a path is kept, with some others."""
    return f"{_KEYS}{crc32(path.encode('utf-8', 'surrogateescape')) % 256:02x}"


class _KnownLife:
    """What attribution asks, answered from the past that is known."""

    def __init__(self, past: Past) -> None:
        self._past = past

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever lay."""
        return {step.path for step in self._past.life(key)}

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""
        saved = self._past.saved(commit)
        return saved.parents if saved else ()

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document ("": taken out), None where it gave none."""
        steps = self._past.life(key)
        return next((step.new for step in steps if step.saved.id == commit), None)


class Past:
    """All commits up to `head`, and the life of every document."""

    def __init__(self, git: Git, progress: Progress | None = None) -> None:
        self.git = git
        self.texts = DocumentCache(git)
        self.head = ""
        self.rewritten = ""  # what became of the history that was known, in words
        self.lost: dict[str, str] = {}
        self.progress = progress
        self._way: PastSource | None = None
        self._answers: kept.Answers = kept.AnswersInMemory()
        if not os.environ.get(NO_INDEX):
            self._answers = kept.KeptAnswers(kept.place_of(git.folder))
        self._order = OneOrder(git)
        self._homes: dict[str, set[str]] = {}  # paths of documents that were looked for
        self._keys: dict[str, str] | None = None  # of the texts that were asked for last
        self._places: dict[tuple[str, str], Location] = {}  # by commit and document

    def refresh(self, head: str) -> None:
        """Take a head as the present one; what is new is read when somebody asks."""
        if head != self.head:
            self._homes = {}
            if self.head and not self.git.is_ancestor(self.head, head):
                self.rewritten = f"{self.head[:10]}, which was its head, is no longer in its past"
        self.head = head

    def notice(self) -> str:
        """What became of the history that was known before, in words, or nothing.

        Looks without reading: that is done when somebody asks for more. `lost` has the tips
        that the index knew and that are not in the past of the head, with their book's identity.
        """
        with self._plain_after_a_fault():
            if self._way is None:
                self._way = self._first_way()
            if isinstance(self._way, IndexedPast) and self.head:
                self._way.notice(self.head)
        self.rewritten = (self._way.rewritten if self._way else "") or self.rewritten
        if isinstance(self._way, IndexedPast):
            self.lost |= self._way.lost
        return self.rewritten

    def _ask(self, question: Callable[[PastSource], A]) -> A:
        with self._plain_after_a_fault():
            return question(self._ready())
        return question(self._ready())

    @contextmanager
    def _plain_after_a_fault(self) -> Iterator[None]:
        """Go the plain way from now on where the index goes wrong in here."""
        try:
            yield
        except WitnessmarkError:
            raise
        except Exception as error:  # whatever is wrong with the index, git has the answer
            if self._way is None or isinstance(self._way, WalkedPast):
                raise
            self._go_the_plain_way(self._way, error)

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

    def _go_the_plain_way(self, index: PastSource, error: Exception) -> None:
        """The index cannot be had; one that is damaged is made anew the next time."""
        index.close()
        if index_file.is_damage(error):
            _log.warning("the index of values is damaged and thrown away: %s", error)
            index_file.throw_away(index_file.place_of(self.git.folder))
        elif isinstance(error, sqlite3.OperationalError | OSError):
            _log.warning("the index of values cannot be had: %s", error)
        else:
            _log.error("the index of values is not used: this program is at fault", exc_info=error)
        self._way = WalkedPast(self.git, self.texts)
        self.rewritten = index.rewritten or self.rewritten
        if isinstance(index, IndexedPast):
            self.lost |= index.lost

    # texts

    def key(self, path: str, blob: str) -> str:
        """What a document is: a record's id, or the name of any other document."""
        return self.texts.key(path, blob)

    def keys(self, files: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        """The same for many texts, by (path, blob); a text that was seen before is not read."""
        if self._keys is None:
            self._keys = {}
            for part in self.recall(_KEYS).values():
                self._keys |= json.loads(part)
        known, fresh = self._keys, set[str]()
        found: dict[tuple[str, str], str] = {}
        self._keys = {}
        for path, blob in files:
            key = known.get(f"{blob} {path}")
            if key is None:
                fresh.add(_part_of(path))
                key = self.key(path, blob)
            found[path, blob] = self._keys[f"{blob} {path}"] = key
        if fresh:  # a save writes one part of many, not the names of all records
            parts: dict[str, dict[str, str]] = {part: {} for part in fresh}
            for (path, blob), key in found.items():
                if (part := _part_of(path)) in parts:
                    parts[part][f"{blob} {path}"] = key
            self.keep({part: json.dumps(named, ensure_ascii=True) for part, named in parts.items()})
        return found

    def document(self, path: str, blob: str) -> Document:
        """A document by its blob. ReadError where that text cannot be used."""
        return self.texts.document(path, blob)

    def values(self, path: str, blob: str) -> dict[str, Value] | None:
        """Every value of a document by address; None where it is no TOML at all."""
        return self.texts.values(path, blob)

    def place_at(self, commit: str, key: str, near: str = "") -> Location:
        """Where a document lies in a commit; NOWHERE where it was not in it.

        Looked for at the paths where it ever lay, and at `near`.
        """
        known = self._places.get((commit, key))
        if known is not None:
            return known
        if key not in self._homes:
            self._homes[key] = {step.path for step in self.life(key)}
        paths = self._homes[key] | ({near} if near else set())
        return locate(self.git.tree_if_any(commit), key, paths, self.key)

    def values_before(self, key: str, step: DocumentChange) -> list[dict[str, Value]]:
        """A document's values in each parent of a step of its life; what was readable last
        where a text is no TOML at all."""
        known = LastReadable(self.git, self.texts, _KnownLife(self))
        return known.values_before(key, step.path, step.saved.parents, step.olds)

    # history

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""
        return self._ask(lambda way: self._order.of(way, way.life(key)))

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many there were."""
        return self._ask(lambda way: way.last_steps())

    def last_step(self, key: str) -> tuple[int, DocumentChange] | None:
        """The last step of a document that left a text, and how many there were."""
        texts = [step for step in self.life(key) if step.new]
        return (sum(step.is_ink for step in texts), texts[-1]) if texts else None

    def last_with(self, texts: Mapping[str, str], commit: str) -> dict[str, str]:
        """The last commit in the past of a given one that left each document with its text.

        Where each lay then is known until the next such question.
        """
        found = self._ask(lambda way: way.last_with(texts, commit))
        self._places = {(own, k): Location(path, texts[k]) for k, (own, path) in found.items()}
        return {key: own for key, (own, _) in found.items()}

    def documents(self) -> list[str]:
        """The keys of all documents that ever were, sorted."""
        return self._ask(lambda way: way.documents())

    def keys_at(self, path: str) -> list[str]:
        """The keys of all records that ever lay at a path, sorted."""
        return self._ask(lambda way: way.keys_at(path))

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        return self._ask(lambda way: way.knows(key))

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        return self._ask(lambda way: way.saved(commit))

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history, from 0; -1 where it does not."""
        return self._ask(lambda way: way.order_of(commit))

    def has(self, commit: str) -> bool:
        """Whether a commit seems to be in the past of the head: quick, and not for an answer.

        Of a damaged index a commit may be missing; where that matters `order_of` asks.
        """
        return self._ask(lambda way: way.has(commit))

    def known_at(self, commit: str) -> Callable[[str], bool]:
        """Whether a commit is a given one or in its past; nothing is where that is unknown."""
        return self._ask(lambda way: way.known_at(commit))

    def rank(self, commit: str) -> tuple[int, int]:
        """Sorts commits: parents before children, side by side by their clocks; -1 for none."""
        return self._ask(lambda way: way.rank(commit))

    def count(self) -> int:
        """How many commits there are."""
        return self._ask(lambda way: way.count())

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        return self._ask(lambda way: way.commits_beginning(prefix))

    def head_at(
        self, moment: datetime, now: datetime | None = None, *, doubtful: bool = False
    ) -> str:
        """What the head surely was at a moment, going back along first parents; "" before the
        first. With `doubtful`: what it may have been, where stamps tell nothing (see `clocks`).
        """
        return self._ask(lambda way: way.head_at(moment, now, doubtful=doubtful))

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""
        return self._ask(lambda way: way.jumps())

    def is_ahead(self, now: datetime) -> bool:
        """Whether some stamp lies in the future."""
        return self._ask(lambda way: way.is_ahead(now))

    def ahead(self, now: datetime) -> list[str]:
        """Commits whose stamps lie in the future, oldest first."""
        return self._ask(lambda way: way.ahead(now))

    def stood_in(
        self, changes: Sequence[tuple[str, str]], spans: Sequence[tuple[str, str]]
    ) -> list[list[int]]:
        """For each change, the spans in whose states it stood, by their places.

        `changes`: (commit, address) of one document, oldest first; `spans`: (commit at the start,
        commit at the end, or "" for the head).
        """
        return self._ask(lambda way: way.stood_in(changes, spans))

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first.

        `within`: text that every covered address has but that of a whole text; it only makes
        the answer faster.
        """
        return self._ask(lambda way: self._order.of(way, way.rows(key, covers, within)))

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values in the whole book, newest first.

        Either way gives those of a commit together, but each has its own order of commits
        that stand side by side: what one way began, the other goes on with by commit.
        """
        given: set[str] = set()
        with self._plain_after_a_fault():
            for row in self._ready().rows_of_all(wanted):
                given.add(row.saved.id)
                yield row
            return
        for row in self._ready().rows_of_all(wanted):
            if row.saved.id not in given:
                yield row

    def after(self, base: str) -> set[str]:
        """Commits that are in the past of the head but not in that of `base`."""
        if base == self.head:
            return set()
        return set(self.git.commits(self.head, base if self.order_of(base) >= 0 else ""))

    def lives(self) -> dict[str, str]:
        """How far the past of each document goes, by key: another text once there is a new step."""
        return self._ask(lambda way: way.lives())

    @property
    def keeps(self) -> bool:
        """Whether what is kept can be had again, by another process too."""
        return self._answers.works

    def at_hand(self) -> bool:
        """Whether the past is known up to the head, or all but a few saves of it: a question is
        then answered without reading much first."""
        with self._plain_after_a_fault():
            way = self._way = self._way or self._first_way()
            return way.head == self.head or (
                isinstance(way, IndexedPast) and way.nearly_has(self.head)
            )
        return False

    def recall(self, prefix: str) -> dict[str, str]:
        """Answers that were kept under names that begin so."""
        return self._answers.recall(prefix)

    def keep(self, found: Mapping[str, str], gone: Iterable[str] = ()) -> None:
        """Keep answers that say what they lean on; forget others."""
        self._answers.keep(found, gone)

    def close(self) -> None:
        """Let files go."""
        self._answers.close()
        if self._way is not None:
            self._way.close()
            self._way = None
