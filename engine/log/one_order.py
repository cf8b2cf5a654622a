"""One order of commits for whoever asks: that of git, whatever was read when.

A history that was read bit by bit, as boxes met, has commits that stand side by side in the
order in which they came; read at once it has another. So where some of a document's stand
side by side, git's own topological order of all of them counts (`git rev-list --topo-order`):
parents before children, and where two lines meet the first parent's before the other's. No
clock takes part, so every box with the same head says `ink-7` of the same ink. Where they
stand one on another there is but one order, and nothing is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, TypeVar

from engine.log.commits import PastSource, Saved
from engine.repo.git import Git


class Made(Protocol):
    """What a save made: a step of a document, a change of a value."""

    @property
    def saved(self) -> Saved:
        """The save."""


M = TypeVar("M", bound=Made)


class OneOrder:
    """The order of all commits up to one head, asked of git where it matters."""

    def __init__(self, git: Git) -> None:
        self._git = git
        self._head = ""
        self._places: dict[str, int] = {}

    def of(self, way: PastSource, found: Sequence[M]) -> list[M]:
        """What commits made, oldest first; of one commit as it was."""
        if way.in_line(list(dict.fromkeys(each.saved.id for each in found))):
            return list(found)
        if self._head != way.head:
            newest_first = self._git.commits(way.head)
            self._places = {commit: -n for n, commit in enumerate(newest_first)}
            self._head = way.head
        return sorted(found, key=lambda each: self._places[each.saved.id])
