"""What is said of the whole book's past.

Slopes and spreads are in the value's own unit, as float: they are estimates, not
values that anybody typed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from engine.views.values import Traced


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """One page of the book's history, newest first; `more` where older changes follow."""

    items: tuple[Traced, ...]
    number: int  # from 1
    more: bool


@dataclass(frozen=True, slots=True)
class Stood:
    """A record in which a value lay within a range on a day; `runs` that went with it then."""

    record: str
    address: str
    value: Decimal
    unit: str
    commit: str  # the state of the book in which it was seen first on that day
    runs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Moved:
    """How often a value changed after it was first written, and how far in all."""

    record: str
    address: str
    unit: str
    times: int
    net: Decimal | None  # last minus first; None where it is no number
    last: datetime
    reasons: int  # changes that somebody gave a reason for


@dataclass(frozen=True, slots=True)
class Creep:
    """How a taught value went from run to run: slope a run by least squares, and spread."""

    record: str
    address: str
    unit: str
    runs: int
    first: Decimal
    last: Decimal
    slope: float
    spread: float  # largest minus smallest
    scatter: float  # root of the mean square that is left over beside the slope
