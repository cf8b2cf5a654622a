"""Which commit changed which document, and which values: each change once.

A document's text belongs to a commit where it differs from that of all parents,
and so does a value: a merge that only joins changes nothing, one that decides
does. Where a text is no TOML at all, what its first parent last said counts, so
the next readable text tells what changed. A document that stands in a tree
twice is the one at its first path.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

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


class Attribution:
    """Tells what commits did; feed it parents before children."""

    def __init__(self, git: Git, texts: DocumentCache, known: Known) -> None:
        self._git = git
        self._texts = texts
        self._known = known
        self.twice: set[str] = set()  # records that stood, or stand, at two paths at once

    def touched(self, one: Streamed) -> list[Touched]:
        """What a commit did to each document, in the order of its paths."""
        if not one.differing:
            return []
        sides = [self._side(files) for files in one.differing]
        first = sides[0]
        found = []
        for key in dict.fromkeys([*first.after, *first.before]):
            if not all(key in side.after or key in side.before for side in sides[1:]):
                continue  # some parent has the very same
            self._look_for_another(key, one, sides)
            made = self._with_care(key, one) if key in self.twice else _plainly(key, sides)
            if made is not None:
                found.append(made)
        return found

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
            if key in side.before or key in self.twice or kind_of(side.after[key].path) != "record":
                continue
            tree, homes = self._git.tree(parent), self._known.homes(key)
            if locate(tree, key, homes, self._texts.key) != NOWHERE:
                self.twice.add(key)

    def _with_care(self, key: str, one: Streamed) -> Touched | None:
        path, new = self._locate(one.raw.id, key)
        olds = [self._locate(parent, key) for parent in one.raw.parents] or [NOWHERE]
        if (path, new) in olds:
            return None
        return Touched(key, path or olds[0].path, tuple(old.blob for old in olds), new)

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
            if blob is not None and self._texts.values(any_path(key), blob) is not None:
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


def _plainly(key: str, sides: list[_Side]) -> Touched:
    path, new = sides[0].after.get(key, NOWHERE)
    olds = [side.before.get(key, NOWHERE) for side in sides]
    return Touched(key, path or olds[0].path, tuple(old.blob for old in olds), new)


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
