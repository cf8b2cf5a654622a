"""Figures as they are answered: computed values with their verdicts, and what follows from them.

Lengths are mm, times s, forces N, masses kg, angles degrees, whatever the record's unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

Verdict = Literal["fits", "tight", "does not fit", "cannot tell", "for information"]


@dataclass(frozen=True, slots=True)
class FigureKind:
    """What every figure of one kind shares. `bound`: the value must stay at least/most at limit."""

    name: str
    group: str
    unit: str
    formula: str  # in words
    source: str  # title, edition, section; or "common practice, no source"
    bound: Literal["least", "most", "none"] = "none"
    tight_share: float = 0.25
    tight_least: float = 0.0  # a margin below this is tight too, in the figure's unit
    section: str = ""  # table or value of the record to look at first

    def tight_below(self, limit: float) -> float:
        """A margin that fits and is smaller than this is tight."""
        return max(self.tight_share * abs(limit), self.tight_least)


@dataclass(frozen=True, slots=True)
class Figure:
    """One value at one leg, station or stage (`at`), judged against its limit.

    `look_at` is the table or value of the record that a person would look at first.
    """

    name: str
    group: str
    at: str
    value: float | None
    unit: str
    limit: float | None
    margin: float | None
    verdict: Verdict
    kind: FigureKind
    missing: tuple[str, ...] = ()
    note: str = ""
    look_at: str = ""


@dataclass(frozen=True, slots=True)
class FigureInput:
    """A value that a figure follows from; `cell:` and `policy:` stand before theirs."""

    address: str
    value: Any
    of_limit: bool  # the limit follows from it, and perhaps the value too


@dataclass(frozen=True, slots=True)
class FigureChange:
    """A figure that changed: what a change of values does to it.

    Values are in `unit`, None where they cannot be told. Verdicts are those of a figure;
    `old_verdict` is "not there" where the figure did not exist before.
    """

    name: str
    at: str  # leg, station or stage
    unit: str
    old: float | None
    new: float | None
    old_verdict: str
    new_verdict: str
    group: str
    limit: float | None


@dataclass(frozen=True, slots=True)
class Expected:
    """A position that follows from another one; `taught` is what stands there now, or None."""

    address: str
    value: Decimal
    unit: str
    taught: Decimal | None

    @property
    def off(self) -> Decimal | None:
        """Taught minus expected."""
        return None if self.taught is None else self.taught - self.value


@dataclass(frozen=True, slots=True)
class Filled:
    """One fill of a lot by the clock: when it begins, when the tray is empty, when it is done."""

    number: int
    blanks: int
    begins: datetime
    empty: datetime
    done: datetime


@dataclass(frozen=True, slots=True)
class FittedTray:
    """What taught pockets say about the grid of a tray.

    Pitches are in the record's `unit`, angles in degrees; `off` is how far each pocket lies
    from the grid of all others in mm, None where nothing checks it.
    """

    verdict: Literal["fits", "does not fit", "cannot tell"]
    words: str
    pitch_across: Decimal | None
    pitch_along: Decimal | None
    unit: str
    rotation: float | None
    skew: float | None
    off: Mapping[str, float | None]
    suspects: tuple[str, ...]
    teach_next: str
