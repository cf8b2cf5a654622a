"""What stands before what: asked of the commits themselves, never of their order in a list.

Commits are known by numbers, parents before children. Of two commits that stand side by
side, neither is in the past of the other, whatever their numbers say. Where history is
straight, numbers tell, and nothing more is looked at: `bends` counts the commits so far
that have not all with smaller numbers in their past.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import Protocol

Rows = dict[str, list[tuple[int, int]]]  # by address: number of the commit, place in the answer


class Ways(Protocol):
    """The commits of a history by their numbers, which are dense and begin at 0."""

    def parents(self, n: int) -> tuple[int, ...]:
        """The parents of a commit, the first one first."""

    def bends(self, n: int) -> int:
        """How many of the commits up to `n`, itself included, have not all others of them
        in their past."""

    def top(self, n: int) -> int:
        """The latest stamp of a commit and all of its past, in seconds since 1970."""


def apart(ways: Ways, heads: Sequence[int]) -> dict[int, int]:
    """Commits that are in the past of some heads and not of all: by number, bit i for head i.

    Parents before children, and of those side by side the later one by their clocks comes later.
    """
    everybody = (1 << len(heads)) - 1
    sides: dict[int, int] = {}
    for bit, head in enumerate(heads):
        sides[head] = sides.get(head, 0) | 1 << bit
    waiting = [-n for n in sides]
    heapify(waiting)
    unsettled = sum(side != everybody for side in sides.values())
    found = {}
    while unsettled:
        n = -heappop(waiting)
        side = sides.pop(n)
        if side != everybody:
            found[n] = side
            unsettled -= 1
        for parent in ways.parents(n):
            before = sides.get(parent)
            if before is None:
                heappush(waiting, -parent)
            now = sides[parent] = (before or 0) | side
            unsettled += (now != everybody) - (before is not None and before != everybody)
    return dict(sorted(found.items(), key=lambda item: (ways.top(item[0]), item[0])))


def leading(sides: Iterable[int], count: int) -> list[int]:
    """Which of `count` heads are not simply behind another one.

    `sides`: for each change, the heads that have it in their past, as bits. A head is behind
    another that knows every change that it knows, and more.
    """
    changes = set(sides)

    def knows_more(one: int, other: int) -> bool:
        return any(side >> one & 1 and not side >> other & 1 for side in changes)

    def behind(one: int) -> bool:
        return any(
            knows_more(other, one) and not knows_more(one, other)
            for other in range(count)
            if other != one
        )

    return [head for head in range(count) if not behind(head)]


def past_of(ways: Ways, n: int) -> Callable[[int], bool]:
    """Whether a commit is `n` or in its past. Looks only as far back as history is not straight."""
    seen, waiting, floor = {n}, [-n], -1
    while waiting:
        now = -heappop(waiting)
        if not waiting and _whole(ways, now):
            floor = now  # all with smaller numbers are in its past
            break
        for parent in ways.parents(now):
            if parent not in seen:
                seen.add(parent)
                heappush(waiting, -parent)
    return lambda other: other <= floor or other in seen


def in_line(ways: Ways, commits: Sequence[int]) -> bool:
    """Whether each of some commits, by number, has all those before it in its past."""
    if not commits or ways.bends(commits[0]) == ways.bends(commits[-1]):
        return True
    return all(
        ways.bends(older) == ways.bends(newer) or past_of(ways, newer)(older)
        for older, newer in pairwise(commits)
    )


def _whole(ways: Ways, n: int) -> bool:
    """Whether all commits with smaller numbers are in the past of this one."""
    return ways.bends(n) == (ways.bends(n - 1) if n else 0)


def line(ways: Ways, start: int, end: int) -> list[int]:
    """The way from an end back along first parents, as far as it stands on a start; without it.

    Newest first. These are the states in which a box was while something went on there.
    """
    found = []
    n = end
    while n > start:
        found.append(n)
        parents = ways.parents(n)
        n = parents[0] if parents else -1
    if n == start:
        return found
    low, high = 0, len(found)  # the way came in by another parent: how many stand on the start?
    while low < high:
        middle = (low + high) // 2
        if past_of(ways, found[middle])(start):
            low = middle + 1
        else:
            high = middle
    return found[:low]


def stood_in(
    ways: Ways, changes: Sequence[tuple[int, str]], spans: Sequence[tuple[int, int]]
) -> list[list[int]]:
    """For each change, the spans of history in whose states it stood, by their places.

    `changes`: (number of the commit, address), oldest first in any order that has parents before
    children; `spans`: (start, end), none where the end does not stand on the start. The states of a
    span are its start and its `line`. In each of them, of several changes of one address the
    last one in its past stands.
    """
    by_address: Rows = {}
    for place, (n, address) in enumerate(changes):
        by_address.setdefault(address, []).append((n, place))
    found: list[list[int]] = [[] for _ in changes]
    for span, (start, end) in enumerate(spans):
        if start < 0 or end < start:
            continue
        straight = _whole(ways, start) and ways.bends(start) == ways.bends(end)
        if not straight and not past_of(ways, end)(start):
            continue  # they stand side by side: whatever their numbers, nothing lies between
        told = _by_number(by_address, start, end) if straight else None
        for place in told if told is not None else _by_ancestry(ways, by_address, start, end):
            found[place].append(span)
    return found


def _by_number(rows: Rows, start: int, end: int) -> list[int]:
    """What stood in a span of straight history."""
    found = []
    for own in map(sorted, rows.values()):
        first = max(bisect_right(own, start, key=_number) - 1, 0)
        found += [place for n, place in own[first : bisect_right(own, end, key=_number)]]
    return found


def _by_ancestry(ways: Ways, rows: Rows, start: int, end: int) -> set[int]:
    """What stood in any state of a span."""
    way = line(ways, start, end)
    meets = [n for n in way if len(ways.parents(n)) > 1]
    pasts = [past_of(ways, n) for n in dict.fromkeys((start, *meets, *way[:1]))]
    on_it = set(way)
    found = set()
    for own in rows.values():
        found |= {place for n, place in own if n in on_it}
        for holds in pasts:
            last = next((place for n, place in reversed(own) if holds(n)), None)
            if last is not None:
                found.add(last)
    return found


def _number(row: tuple[int, int]) -> int:
    return row[0]
