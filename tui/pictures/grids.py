"""How large a pocket is drawn, and what of a very large tray is left out; counts and cells only.

Invariant: a drawing never gets wider than what it is given. Where it can it is
true to the plate (a cell is twice as high as wide); `stretch` says how far it is
not. Pockets get their number as long as there is room for it, then a sign.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log
from typing import Literal

MOST_ROWS = 40  # lines of a plan in which every pocket is one sign
FAIR = 1.6  # a plan stretched by more says so

How = Literal["pockets", "numbers", "signs"]


@dataclass(frozen=True, slots=True)
class Size:
    """How the grid is drawn: cells from pocket to pocket, and of a pocket itself."""

    how: How
    across: int
    along: int
    wide: int  # of one pocket, the web to its neighbour left out
    high: int
    columns: tuple[int | None, ...]  # the columns that are drawn, from c1; None stands for a gap
    rows: tuple[int | None, ...]
    stretch: float  # how many times too high it is drawn

    @property
    def cells(self) -> tuple[int, int]:
        """Width and height of the whole grid, from the first pocket to the last."""
        wide = self.across * (len(self.columns) - 1) + self.wide
        return wide, self.along * (len(self.rows) - 1) + self.high


@dataclass(frozen=True, slots=True)
class Want:
    """What is to be drawn: the grid, pitch across over pitch along, pocket over pitch."""

    columns: int
    rows: int
    ratio: float
    share_across: float
    share_along: float


def size_for(want: Want, digits: int, widths: Mapping[How, int], height: int) -> Size:
    """The size that fits the width, is true to the plate, fits the height, is large; in that order.

    `height` is kept where it can be. `digits` is the length of the highest number.
    """
    every = tuple(range(want.columns)), tuple(range(want.rows))
    leasts: tuple[tuple[How, int], ...] = (
        ("pockets", max(digits, 2) + 3),
        ("numbers", max(digits, 2) + 1),
    )
    for how, least in leasts:
        if want.rows > MOST_ROWS or want.columns * least > widths[how]:
            continue
        pitch = _pitch(want, least, widths[how], height)
        if how == "pockets":
            return _pockets(want, pitch, every, least - 1)
        return Size("numbers", *pitch, least, 1, *every, _stretch(want, pitch))
    across = 2 if want.columns * 2 <= widths["signs"] else 1
    columns, rows = kept(want.columns, widths["signs"] // across), kept(want.rows, MOST_ROWS)
    return Size("signs", across, 1, 1, 1, columns, rows, _stretch(want, (across, 1)))


def _pockets(
    want: Want, pitch: tuple[int, int], every: tuple[tuple[int, ...], tuple[int, ...]], least: int
) -> Size:
    across, along = pitch
    wide = min(max(round(across * want.share_across), least), across - 1)
    high = min(max(round(along * want.share_along), 1), max(along - 1, 1), 3)
    return Size("pockets", across, along, wide, high, *every, _stretch(want, pitch))


def _pitch(want: Want, least: int, width: int, height: int) -> tuple[int, int]:
    def worth(pitch: tuple[int, int]) -> tuple[bool, int, int]:
        true = abs(log(_stretch(want, pitch))) <= log(FAIR)
        return not true, max(want.rows * pitch[1] - height, 0), -pitch[1]

    room = width // want.columns
    sizes = [
        (min(max(round(2 * along * want.ratio), least), room), along)
        for along in range(1, max(height // want.rows, 4) + 1)
    ]
    return min(sizes, key=worth)


def _stretch(want: Want, pitch: tuple[int, int]) -> float:
    return want.ratio * 2 * pitch[1] / pitch[0]


def kept(count: int, room: int) -> tuple[int | None, ...]:
    """All of them, or the first and the last ones with a gap between."""
    if count <= room:
        return tuple(range(count))
    last = (room - 1) // 2
    return (*range(room - 1 - last), None, *range(count - last, count))
