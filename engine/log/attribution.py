"""Which commit changed which document, and which values: each change once.

A document's text belongs to a commit where it differs from that of all parents,
and so does a value: a merge that only joins changes nothing, one that decides
does (`decisions`). Where a text is no TOML at all, what its first parent last said counts, so
the next readable text tells what changed. A document that stands in a tree
twice is the one at its first path.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from engine.log.ancestry import leading
from engine.log.document_cache import DocumentCache
from engine.log.locations import NOWHERE, Location, any_path, locate, possible_paths
from engine.repo.git import Git
from engine.repo.stream import Differing, Streamed
from schemas.address import Value, same_text, same_value
from schemas.document import kind_of

WITH_VALUES = ("record", "cell", "people", "book")  # kinds whose values have a history
V = TypeVar("V")


class Known(Protocol):
    """What is known of the commits before; both ways of remembering answer it."""

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever stood."""

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document ("": taken out), None where it gave none."""


class Building(Known, Protocol):
    """What is known while commits are taken in."""

    def sides(self, parents: Sequence[str], key: str) -> Iterable[int]:
        """For each change of a document that not all parents know: who does (bit n: the n-th)."""


@dataclass(frozen=True, slots=True)
class Touched:
    """What one commit did to one document: its blob in each parent, and now ("" for none)."""

    key: str
    path: str
    olds: tuple[str, ...]
    new: str


@dataclass(slots=True)
class _Side:
    """What differs from one parent, by document: where it lies there and here."""

    before: dict[str, Location] = field(default_factory=dict)
    after: dict[str, Location] = field(default_factory=dict)


class LastReadable:
    """What a document said in a commit, even where its text there is no TOML."""

    def __init__(self, git: Git, texts: DocumentCache, known: Known) -> None:
        self._git = git
        self._texts = texts
        self._known = known

    def _locate(self, commit: str, key: str) -> Location:
        files = self._git.tree(commit)
        return locate(files, key, possible_paths(files, key), self._texts.key)

    def last_readable(self, commit: str, key: str) -> str:
        """The blob of a document in a commit, or the last readable one on the way to it.

        The way goes along first parents. Empty where there was none.
        """
        while commit:
            parents = self._known.parents_of(commit)
            blob = self._known.text_after(commit, key)
            if blob is None and len(parents) > 1:
                blob = self._locate(commit, key).blob
            if blob == "":
                return ""
            if blob is not None and self._texts.spelt(any_path(key), blob) is not None:
                return blob
            commit = parents[0] if parents else ""
        return ""

    def values_before(
        self, key: str, path: str, parents: Sequence[str], olds: Sequence[str]
    ) -> list[dict[str, Value]]:
        """A document's values in each parent; what was readable last where one is no TOML."""
        found = []
        for n, blob in enumerate(olds):
            values = self._texts.values(path, blob)
            if values is None:
                values = self._texts.values(path, self.last_readable(parents[n], key))
            found.append(values or {})
        return found


class Attribution(LastReadable):
    """Tells what commits did; feed it parents before children."""

    def __init__(self, git: Git, texts: DocumentCache, known: Building) -> None:
        super().__init__(git, texts, known)
        self._building = known
        self.twice: set[str] = set()  # records that stood, or stand, at two paths at once

    def touched(self, one: Streamed) -> list[Touched]:
        """What a commit did to each document, in the order of its paths."""
        sides = [self._side(files) for files in one.differing]
        found = []
        for key in dict.fromkeys(key for side in sides for key in (*side.after, *side.before)):
            self._look_for_another(key, one, sides)
            here, olds = self._with_care(key, one) if key in self.twice else _plainly(key, sides)
            if self._is_change(key, one.raw.parents, here, olds):
                path = here.path or next(old.path for old in olds if old.path)
                found.append(Touched(key, path, tuple(old.blob for old in olds), here.blob))
        return found

    def _is_change(
        self, key: str, parents: Sequence[str], here: Location, olds: Sequence[Location]
    ) -> bool:
        """Whether no parent has the very same, or one has and a merge decided for it."""
        other = [n for n, old in enumerate(olds) if old != here]
        if len(other) in (0, len(olds)):
            return bool(other)
        ahead = leading(self._building.sides(parents, key), len(olds))
        if any(n in ahead for n in other):
            return True
        # of a text that is no TOML, what the first parent last said counts, not what this side did
        return here != olds[0] and self._texts.spelt(here.path, here.blob) is None

    def _side(self, files: list[Differing]) -> _Side:
        side = _Side()
        for file in files:
            if kind_of(file.path) is None:
                continue
            if file.old:
                self._put(side.before, file.path, file.old)
            if file.new:
                self._put(side.after, file.path, file.new)
        return side

    def _put(self, where: dict[str, Location], path: str, blob: str) -> None:
        key = self._texts.key(path, blob)
        if key in where:
            self.twice.add(key)
        where.setdefault(key, Location(path, blob))

    def _look_for_another(self, key: str, one: Streamed, sides: list[_Side]) -> None:
        """A document that seems to be new may lie at another path already."""
        for side, parent in zip(sides, one.raw.parents, strict=False):
            if key in side.before or key in self.twice or key not in side.after:
                continue
            if kind_of(side.after[key].path) != "record":
                continue
            tree, homes = self._git.tree(parent), self._known.homes(key)
            if locate(tree, key, homes, self._texts.key) != NOWHERE:
                self.twice.add(key)

    def _with_care(self, key: str, one: Streamed) -> tuple[Location, list[Location]]:
        """Where a document lies now, and in each parent, looked for in their trees."""
        olds = [self._locate(parent, key) for parent in one.raw.parents]
        return self._locate(one.raw.id, key), olds or [NOWHERE]


def _plainly(key: str, sides: list[_Side]) -> tuple[Location, list[Location]]:
    """The same, as the differences say it; a parent that has none has the very same."""
    here = next((side.after[key] for side in sides if key in side.after), NOWHERE)
    return here, [
        side.before.get(key, NOWHERE) if key in side.before or key in side.after else here
        for side in sides
    ]


def changed_against_all(
    olds: Sequence[Mapping[str, V]],
    new: Mapping[str, V],
    differ: Callable[[V | None, V | None], bool],
    covers: Callable[[str], bool] | None = None,
) -> Iterator[tuple[str, V | None, V | None]]:
    """What differs from every parent: address, value in the first parent, value now.

    In the order of the new state, then what is gone. None stands for no value.
    """
    first, others = olds[0], olds[1:]
    for address in dict.fromkeys([*new, *(address for old in olds for address in old)]):
        if covers is not None and not covers(address):
            continue
        was, now = first.get(address), new.get(address)
        if differ(was, now) and all(differ(old.get(address), now) for old in others):
            yield address, was, now


def differ(one: Value | None, other: Value | None) -> bool:
    """Whether two values are different; what is the same to the letter never is."""
    return not same_value(one, other) and not same_text(one, other)
