"""Which commit changed which document, and which values: each change once.

A document's text belongs to a commit where it differs from that of all parents,
and so does a value: a merge that only joins changes nothing, one that decides
does. Where a text is no TOML at all, what its first parent last said counts, so
the next readable text tells what changed. A document that stands in a tree
twice is the one at its first path.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from engine.log.document_cache import DocumentCache
from engine.repo.git import Git
from engine.repo.stream import Differing, Streamed
from schemas.document import kind_of


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
    """What differs from one parent, by document: (path, blob) there and here."""

    before: dict[str, tuple[str, str]] = field(default_factory=dict)
    after: dict[str, tuple[str, str]] = field(default_factory=dict)


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
                self._place(side.before, file.path, file.old)
            if file.new:
                self._place(side.after, file.path, file.new)
        return side

    def _place(self, where: dict[str, tuple[str, str]], path: str, blob: str) -> None:
        key = self._texts.key(path, blob)
        if key in where:
            self.twice.add(key)
        where.setdefault(key, (path, blob))

    def _look_for_another(self, key: str, one: Streamed, sides: list[_Side]) -> None:
        """A document that seems to be new may stand at another path already."""
        for side, parent in zip(sides, one.raw.parents, strict=False):
            if key in side.before or key in self.twice or kind_of(side.after[key][0]) != "record":
                continue
            for path in self._known.homes(key):
                blob = self._git.blob_at(parent, path)
                if blob and self._texts.key(path, blob) == key:
                    self.twice.add(key)

    def _with_care(self, key: str, one: Streamed) -> Touched | None:
        path, new = self.place_in(one.raw.id, key)
        olds = [self.place_in(parent, key) for parent in one.raw.parents] or [("", "")]
        if (path, new) in olds:
            return None
        blobs = tuple(blob for _, blob in olds)
        return Touched(key, path or olds[0][0], blobs, new)

    def place_in(self, commit: str, key: str) -> tuple[str, str]:
        """(path, blob) of a document in a commit; ("", "") where it is not in it."""
        for path, blob in self._git.tree(commit).items():
            if kind_of(path) is not None and self._texts.key(path, blob) == key:
                return path, blob
        return "", ""

    def last_readable(self, commit: str, key: str) -> str:
        """The blob of a document in a commit, or the last readable one on the way to it.

        The way goes along first parents. Empty where there was none.
        """
        while commit:
            parents = self._known.parents_of(commit)
            blob = self._known.text_after(commit, key)
            if blob is None and len(parents) > 1:
                blob = self.place_in(commit, key)[1]
            if blob == "":
                return ""
            if blob is not None and self._texts.values(_any_path(key), blob) is not None:
                return blob
            commit = parents[0] if parents else ""
        return ""


def _plainly(key: str, sides: list[_Side]) -> Touched:
    path, new = sides[0].after.get(key, ("", ""))
    olds = [side.before.get(key, ("", "")) for side in sides]
    return Touched(key, path or olds[0][0], tuple(blob for _, blob in olds), new)


def _any_path(key: str) -> str:
    """A path under which a document's text is read; which one does not change its values."""
    if key.startswith("wm-"):
        return f"records/{key}.toml"
    return f"{key}.toml"


def order_of_addresses(new: Mapping[str, object], olds: list[Mapping[str, object]]) -> list[str]:
    """Addresses of the new state in its order, then those that are gone."""
    return list(dict.fromkeys([*new, *(address for old in olds for address in old)]))
