"""Which line of a changed stretch became which: by letters, numbers left out of account.

Works on keys (`compare.key_of`: no comments, N numbers, blanks or small
letters). Costs are ours, no source: a line changed in place is cheaper than one
removed and one added only if both have a letter in common.
"""

from __future__ import annotations

from collections.abc import Sequence

CELLS = 40_000  # pairs that are tried for one stretch
GAP = 1.0
SAME_SHAPE, AKIN, STRANGE = 0.6, 1.2, 2.5
_NUMBERS = b"0123456789.+-"

LinePair = tuple[int | None, int | None]


def pairs(old: Sequence[bytes], new: Sequence[bytes]) -> list[LinePair] | None:
    """Pairs of indices in order, None on the side that has no line; None if it is too much."""
    if len(old) == len(new) and all(map(_alike, old, new)):
        return [(index, index) for index in range(len(old))]
    if len(old) * len(new) > CELLS:
        return None
    costs = _costs(old, new)
    found: list[LinePair] = []
    i = j = 0
    while i < len(old) or j < len(new):
        here = costs[i][j]
        if j == len(new) or (i < len(old) and here == costs[i + 1][j] + GAP):
            found.append((i, None))
            i += 1
        elif i == len(old) or here == costs[i][j + 1] + GAP:
            found.append((None, j))
            j += 1
        else:
            found.append((i, j))
            i, j = i + 1, j + 1
    return found


def _costs(old: Sequence[bytes], new: Sequence[bytes]) -> list[list[float]]:
    """costs[i][j]: the least cost of turning old[i:] into new[j:]."""
    costs = [[0.0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for j in range(len(new) - 1, -1, -1):
        costs[-1][j] = costs[-1][j + 1] + GAP
    for i in range(len(old) - 1, -1, -1):
        row, below = costs[i], costs[i + 1]
        row[-1] = below[-1] + GAP
        for j in range(len(new) - 1, -1, -1):
            change = below[j + 1] + _cost(old[i], new[j])
            row[j] = min(change, below[j] + GAP, row[j + 1] + GAP)
    return costs


def _cost(old: bytes, new: bytes) -> float:
    if old == new:
        return 0.0
    one, other = old.translate(None, _NUMBERS), new.translate(None, _NUMBERS)
    if one == other:
        return SAME_SHAPE
    return AKIN if not set(one).isdisjoint(other) else STRANGE


def _alike(old: bytes, new: bytes) -> bool:
    return _cost(old, new) <= SAME_SHAPE
