"""The commits of an index that is growing: their ways and stamps, written or still to be.

What an outline says of a commit's past is worked out here, once, from the outlines of
its parents.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence

from engine.log.clocks import MOST_JUMPS, runs_backwards
from engine.log.commits import Saved
from engine.log.index_file import Extent
from engine.log.index_outlines import MANY, Outline
from engine.log.index_tables import IndexTables


class GrowingWays:
    """Numbers, parents and outlines of commits, parents before children."""

    def __init__(self, tables: IndexTables, known: Extent) -> None:
        self._tables = tables
        self.count = self._written = self._begins_at = known.commits
        self._firsts = array("i")  # first parents of the commits since then
        self._pending: list[Outline] = []
        self._saves: list[Saved] = []
        self._numbers: dict[str, int] = {}
        self._bends = 0
        self._tips: set[int] = set()
        if known.commits:
            head = self.number(known.head)
            self._tips, self._bends = {head}, tables.bends(head)
        self.jumped, self.jumps, self.behind = known.jumped, known.jumps, known.behind

    def number(self, commit: str) -> int:
        """The number of a commit that was taken in."""
        known = self._numbers.get(commit)
        return self._tables.save_row(commit)[0] if known is None else known

    def saved(self, n: int) -> Saved:
        """A commit by its number."""
        return self._tables.save(n) if n < self._written else self._saves[n - self._written]

    def parents(self, n: int) -> tuple[int, ...]:
        """The parents of a commit, the first one first."""
        if n < self._written:
            return self._tables.parents(n)
        return tuple(map(self.number, self._saves[n - self._written].parents))

    def bends(self, n: int) -> int:
        """How many of the commits up to `n` have not all others of them in their past."""
        return self._outline(n).bends

    def top(self, n: int) -> int:
        """The latest stamp of a commit and all of its past."""
        return self._outline(n).top

    def _outline(self, n: int) -> Outline:
        return (
            self._tables.outlines.of(n) if n < self._written else self._pending[n - self._written]
        )

    def steps(self, n: int) -> int:
        """How many documents a commit changed."""
        return self._outline(n).steps

    def append(self, saved: Saved, who: int, steps: int) -> None:
        """Take in the next commit: who made it, by the number of a word, and its steps."""
        n, parents = self.count, tuple(map(self.number, saved.parents))
        self._tips = (self._tips - set(parents)) | {n}
        self._bends += self._tips != {n}
        top = self._stamps(n, saved, parents)
        first, second = (*parents, -1, -1)[:2]
        self._firsts.append(first)
        if len(parents) > 2:
            second = MANY
        bare = not saved.reason
        self._pending.append(
            Outline(saved.stamp, who, bare, steps, top, first, second, self._bends)
        )
        self._saves.append(saved)
        self._numbers[saved.id] = n
        self.count += 1

    def _stamps(self, n: int, saved: Saved, parents: Sequence[int]) -> int:
        """The latest stamp up to here; what runs backwards is counted."""
        outlines = [self._outline(parent) for parent in parents]
        top = max((outline.top for outline in outlines), default=saved.stamp)
        self.behind += runs_backwards(saved.stamp, top)
        latest = max((outline.stamp for outline in outlines), default=saved.stamp)
        if runs_backwards(saved.stamp, latest):
            self.jumped += 1
            self.jumps = (*self.jumps, n)[-MOST_JUMPS:]
        return max(top, saved.stamp)

    def is_on_line(self, n: int, end: int) -> bool:
        """Whether a commit lies on the way from an end back along first parents.

        Only that of commits which were taken in since this began is known: else False.
        """
        while end > n and end >= self._begins_at:
            end = self._firsts[end - self._begins_at]
        return end == n

    def flush(self) -> None:
        """Write the outlines that are still to be; the commits' own rows are written before."""
        self._tables.outlines.append(self._written, self._pending)
        self._written = self.count
        self._pending, self._saves, self._numbers = [], [], {}
