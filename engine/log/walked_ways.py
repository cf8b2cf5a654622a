"""The commits of a history by their numbers, in memory, as the plain walk has them."""

from __future__ import annotations

from collections.abc import Sequence

from engine.log.clocks import MOST_JUMPS, Jump, Jumps, runs_backwards
from engine.log.commits import Saved


class WalkedWays:
    """Parents, bends and stamps of commits; they are given parents before children."""

    def __init__(self) -> None:
        self._saves: list[Saved] = []
        self._parents: list[tuple[int, ...]] = []
        self._bends: list[int] = []
        self._tops: list[int] = []
        self._tips: set[int] = set()  # commits that no other stands on yet
        self._jumps: list[Jump] = []
        self._behind = 0

    def append(self, saved: Saved, parents: Sequence[int]) -> None:
        """Take in the next commit."""
        n = len(self._saves)
        self._saves.append(saved)
        self._parents.append(tuple(parents))
        self._tips = (self._tips - set(parents)) | {n}
        self._bends.append((self._bends[-1] if n else 0) + (self._tips != {n}))
        top = max((self._tops[parent] for parent in parents), default=saved.stamp)
        self._tops.append(max(top, saved.stamp))
        self._behind += runs_backwards(saved.stamp, top)
        jump = jump_of(saved, [self._saves[parent] for parent in parents])
        if jump is not None:
            self._jumps.append(jump)

    def parents(self, n: int) -> tuple[int, ...]:
        """The parents of a commit, the first one first."""
        return self._parents[n]

    def bends(self, n: int) -> int:
        """How many of the commits up to `n` have not all others of them in their past."""
        return self._bends[n]

    def stamp(self, n: int) -> int:
        """The committer's stamp."""
        return self._saves[n].stamp

    def top(self, n: int) -> int:
        """The latest stamp of a commit and all of its past."""
        return self._tops[n]

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""
        return Jumps(len(self._jumps), tuple(self._jumps[-MOST_JUMPS:]), self._behind)


def jump_of(saved: Saved, parents: Sequence[Saved]) -> Jump | None:
    """Where a commit is stamped earlier than one that it stands on."""
    latest = max(parents, key=lambda parent: parent.stamp, default=None)
    if latest is None or not runs_backwards(saved.stamp, latest.stamp):
        return None
    return Jump(saved.id, saved.stamp, latest.id, latest.stamp)
