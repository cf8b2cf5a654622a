"""Which lines of two texts belong together, in time that grows with their length only.

Lines are compared by key alone. Where keys part, both texts are searched for a
place within `WINDOW` lines from which `RUN` lines agree again; a budget of
comparisons bounds the whole, and past it the rest is one stretch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

WINDOW = 200
RUN = 3
BUDGET = 3_000_000


class LineStretch(NamedTuple):
    """Lines `old_start:old_end` became `new_start:new_end`; `same`: their keys are equal."""

    same: bool
    old_start: int
    old_end: int
    new_start: int
    new_end: int


def stretches(old: Sequence[bytes], new: Sequence[bytes]) -> Iterator[LineStretch]:
    """All of both texts as stretches in order, the same and the changed ones in turn."""
    at_old = at_new = 0
    budget = [BUDGET]
    while at_old < len(old) or at_new < len(new):
        end = _same_until(old, new, at_old, at_new)
        if end > at_old:
            yield LineStretch(True, at_old, end, at_new, at_new + end - at_old)
            at_old, at_new = end, at_new + end - at_old
            continue
        skip_old, skip_new = _resync(old, new, at_old, at_new, budget)
        yield LineStretch(False, at_old, at_old + skip_old, at_new, at_new + skip_new)
        at_old, at_new = at_old + skip_old, at_new + skip_new


def _same_until(old: Sequence[bytes], new: Sequence[bytes], at_old: int, at_new: int) -> int:
    """Index in `old` up to which the keys agree."""
    limit = min(len(old) - at_old, len(new) - at_new)
    step = 0
    while step < limit and old[at_old + step] == new[at_new + step]:
        step += 1
    return at_old + step


def _resync(
    old: Sequence[bytes], new: Sequence[bytes], at_old: int, at_new: int, budget: list[int]
) -> tuple[int, int]:
    """How many lines of each to pass over until both agree again; the fewest that do."""
    rest_old, rest_new = len(old) - at_old, len(new) - at_new
    if rest_old == 0 or rest_new == 0 or budget[0] <= 0:
        return rest_old, rest_new
    for total in range(1, 2 * WINDOW + 1):
        first = max(0, total - min(WINDOW, rest_new))
        last = min(total, WINDOW, rest_old)
        budget[0] -= max(last - first + 1, 0)
        for skip_old in _from_middle(first, last):
            i, j = at_old + skip_old, at_new + total - skip_old
            if _agree(old, new, i, j):
                return skip_old, total - skip_old
    return min(WINDOW, rest_old), min(WINDOW, rest_new)


def _from_middle(first: int, last: int) -> list[int]:
    """The numbers from first to last, those in the middle first: a line changed in place."""
    middle = (first + last) / 2
    return sorted(range(first, last + 1), key=lambda number: abs(number - middle))


def _agree(old: Sequence[bytes], new: Sequence[bytes], i: int, j: int) -> bool:
    """Whether the next lines are equal, or both texts are at their end."""
    if i >= len(old) or j >= len(new):
        return i >= len(old) and j >= len(new)
    return old[i] == new[j] and old[i : i + RUN] == new[j : j + RUN]
