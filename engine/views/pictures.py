"""What pictures of a set-up show, worked out: tray, round, bites.

All lengths are mm and all times s; `unit` is the one that the record's lengths are
typed in. A pocket is (column, row), counted from zero at r1c1. What cannot be told
is a `CannotTell` with the addresses that are missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from engine.views.figures import Figure
from schemas.pocket import Pocket

Units = Literal["mm", "in"]
Which = Literal["steady", "first", "last"]


@dataclass(frozen=True, slots=True)
class CannotTell:
    """Why there is no picture, or no part of one: all that is missing."""

    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrayReach:
    """One axis at one station: the least travel left, at which pocket, and what is out of reach.

    A pocket is out of reach where less is left than the policy wants, or less than
    nothing where it makes no rule.
    """

    station: str
    axis: str
    least: float
    worst: Pocket
    out: frozenset[Pocket]


@dataclass(frozen=True, slots=True)
class TrayScale:
    """Proportions of the grid: pitches and pockets, as usual where `missing` names what is not."""

    pitch: tuple[float, float]  # across, along
    pocket: tuple[float, float]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrayPlan:
    """The tray from above. `order` numbers the pockets in use from 1, as they are fetched."""

    unit: Units
    plate: str
    columns: int
    rows: int
    order: Mapping[Pocket, int]
    path: str
    corner: str  # of r1c1, as the person at the near side sees it
    round: bool
    scale: TrayScale
    keep_empty: int  # pockets left empty for what comes back
    reach: tuple[TrayReach, ...] | CannotTell
    out: frozenset[Pocket]  # pockets that are out of reach somewhere
    travel_margin: float
    rooms: tuple[Figure, ...]  # webs and finger rooms
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CycleBar:
    """One bar of the round, in s from the moment the round begins."""

    name: str
    start: float
    length: float
    kind: Literal["loader", "machining", "waits"] = "loader"

    @property
    def end(self) -> float:
        """When it is over."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class RoundBars:
    """One round at a percentage of full speed, step by step and as two lanes.

    `seconds` is the cycle, or the first or the last round. The lanes cover the whole
    round, each bar named for what goes on: cuts, works, waits, stands; they are
    empty where no machining is in the round. `missing` where it cannot be told.
    """

    which: Which
    percent: float
    seconds: float = 0.0
    hourly: float | None = None
    bars: tuple[CycleBar, ...] = ()
    machine: tuple[CycleBar, ...] = ()
    loader: tuple[CycleBar, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PieceHeld:
    """Blank or part between jaws and fingers; None for what is not known.

    `height` is the largest, `least_height` the smallest, which the sum counts with.
    `free` is the figure that judges the height left between jaws and fingers.
    """

    what: Literal["blank", "part"]
    height: float | None
    least_height: float | None
    jaws: float | None
    fingers: float | None
    jaws_inside: bool
    fingers_inside: bool
    free: Figure
    stick_out: float | None


@dataclass(frozen=True, slots=True)
class Bites:
    """What jaws and fingers hold of blank and part."""

    unit: Units
    pieces: tuple[PieceHeld, PieceHeld]
