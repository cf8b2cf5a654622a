"""A moment put to history: what was surely there by then, whatever single stamps say.

Order is the history's; stamps are only what clocks said. The stamp that counts is the
committer's: when a commit was put where it stands (the author's moves along with a rebase).
Nothing that may have been made after a moment is taken for older: a commit was there by then if
its stamp says so, no stamp in its past says otherwise, and it does not run backwards itself; or
if such a one stands on it. Boxes may differ by `SKEW`; a stamp that lies further in the future of
whoever asks says nothing at all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import Protocol

from engine.log.ancestry import Ways

SKEW = 15 * 60  # seconds by which clocks of healthy boxes may differ


class Stamped(Ways, Protocol):
    """Commits by their numbers, with what clocks said of them, in seconds since 1970."""

    def stamp(self, n: int) -> int:
        """The committer's stamp."""


def runs_backwards(stamp: int, latest: float) -> bool:
    """Whether a stamp is earlier than the latest that it stands on by more than boxes differ."""
    return stamp < latest - SKEW


@dataclass(frozen=True, slots=True)
class Jump:
    """A commit that is stamped earlier than the one it stands on: both stamps."""

    commit: str
    stamp: int
    parent: str
    parent_stamp: int


@dataclass(frozen=True, slots=True)
class Jumps:
    """How many stamps of a history run backwards; the last ones, oldest first.

    `behind` counts all commits that are stamped earlier than anything in their past.
    """

    count: int = 0
    last: tuple[Jump, ...] = ()
    behind: int = 0


MOST_JUMPS = 10  # kept by name


class Clock:
    """What the stamps of a history say to somebody whose own clock stands at `now`."""

    def __init__(self, ways: Stamped, head: int, now: float | None) -> None:
        self._ways = ways
        self._head = head
        self._limit = inf if now is None else now + SKEW
        self._cleaned: dict[int, float] = {}
        if head >= 0 and ways.top(head) > self._limit:
            self._leave_out_the_future()

    @property
    def is_ahead(self) -> bool:
        """Whether some stamp lies in the future."""
        return bool(self._cleaned)

    @property
    def ahead(self) -> list[int]:
        """Commits whose own stamps lie in the future, oldest first."""
        return [n for n in sorted(self._cleaned) if self._ways.stamp(n) > self._limit]

    def _leave_out_the_future(self) -> None:
        """Tops without stamps of the future, for all commits that stand on one."""
        ways, limit = self._ways, self._limit
        seen, waiting = set(), [self._head]
        while waiting:
            n = waiting.pop()
            if n not in seen and ways.top(n) > limit:
                seen.add(n)
                waiting += ways.parents(n)
        for n in sorted(seen):
            tops = [self.top(parent) for parent in ways.parents(n)]
            stamp = ways.stamp(n)
            self._cleaned[n] = max([*tops, stamp if stamp <= limit else -inf])

    def top(self, n: int) -> float:
        """The latest stamp of a commit and its past that is believed."""
        cleaned = self._cleaned.get(n)
        return self._ways.top(n) if cleaned is None else cleaned

    def is_sure(self, n: int) -> bool:
        """Whether a commit's own stamp is believed."""
        stamp = self._ways.stamp(n)
        return stamp <= self._limit and not runs_backwards(stamp, self.top(n))

    def head_at(self, until: float, *, doubtful: bool = False) -> int:
        """The last commit on the way of first parents that was there by a moment; -1 for none.

        With `doubtful` those count that may have been there: whose own stamps tell nothing.
        """
        n = self._head
        while n >= 0:
            if self.top(n) <= until and (doubtful or self.is_sure(n)):
                return n
            parents = self._ways.parents(n)
            n = parents[0] if parents else -1
        return -1

    def later_than(self, until: float) -> Callable[[int], bool]:
        """Whether a commit was not surely there before a moment.

        Looks at all commits. Where no stamp runs backwards nor lies in the future, `top` tells.
        """
        before = bytearray(self._head + 1)
        for n in range(self._head, -1, -1):
            if before[n] or (self.top(n) < until and self.is_sure(n)):
                before[n] = 1
                for parent in self._ways.parents(n):
                    before[parent] = 1
        return lambda n: n > self._head or not before[n]
