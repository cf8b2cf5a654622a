"""How many pockets a plate can have; plain lengths in one unit, no record.

Bodies stand in a regular grid of rows and columns, none turned by itself; all are
turned by 90° if that gives more, with the room that their fingers need. `edge` is
kept free all round.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

_SLACK = 1e-9  # 310 in 31 steps of 10 must not lose one to a float

TwoLengths = tuple[float, float]  # across, along


@dataclass(frozen=True, slots=True)
class Capacity:
    """The most columns and rows, and the least pitches that keep the room."""

    across: int
    along: int
    pitch_across: float
    pitch_along: float
    turned: bool = False

    @property
    def pockets(self) -> int:
        """Number of pockets."""
        return self.across * self.along


def along_one(plate: float, body: float, room: float, edge: float = 0.0) -> int:
    """Bodies in a line: n·body + (n − 1)·room <= plate − 2·edge; none where none fits."""
    if body <= 0 or body + room <= 0:
        return 0
    return max(floor((plate - 2 * edge + room) / (body + room) + _SLACK), 0)


def what_fits(plate: TwoLengths, body: TwoLengths, room: TwoLengths, edge: float = 0.0) -> Capacity:
    """The largest rows x columns; as it lies where turning gives no more."""
    straight = _one_way(plate, body, room, edge, turned=False)
    turned = _one_way(plate, body[::-1], room[::-1], edge, turned=True)
    return turned if turned.pockets > straight.pockets else straight


def _one_way(
    plate: TwoLengths, body: TwoLengths, room: TwoLengths, edge: float, *, turned: bool
) -> Capacity:
    across, along = (along_one(plate[i], body[i], room[i], edge) for i in (0, 1))
    return Capacity(across, along, body[0] + room[0], body[1] + room[1], turned)
