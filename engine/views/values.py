"""Values, and what differs between two of them: in pencil, inked, compared, traced.

Numbers are as typed. Moments are aware datetimes, commits are full ids.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Literal

from engine.views.clocks import Clocks
from engine.views.people import Who
from schemas.address import Tree, Value
from schemas.errors import Problem


@dataclass(frozen=True, slots=True)
class FieldRow:
    """One row: where it stands, what it is called, its unit, and what is inked (or None)."""

    address: str
    section: str  # the first key, and the group below it: `positions.seat`, `jaws`
    label: str
    unit: str
    kind: str
    value: Value | None


@dataclass(frozen=True, slots=True)
class Shown:
    """A document at a mark: its values as they stand in the text, whether usable or not.

    `problems` says why a text cannot be used; where it cannot be read at all, `values` is
    empty and `text` is what lies there.
    """

    document: str
    commit: str
    mark: str
    values: Tree
    problems: tuple[Problem, ...] = ()
    text: str | None = None


Unusable = Literal["", "old", "new", "both"]  # sides with a value that the field cannot hold


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs. `delta` is new minus old for numbers, in `unit`.

    Without an address and without values it is the whole text, which cannot be read any more.
    """

    address: str
    old: Value | None
    new: Value | None
    unit: str
    delta: Decimal | None
    unusable: Unusable = ""

    @property
    def is_unreadable_text(self) -> bool:
        """Whether it says that a commit left a text that is no TOML."""
        return self.address == "" and self.old is None and self.new is None


@dataclass(frozen=True, slots=True)
class PositionChange:
    """A taught position that moved, as one vector: deltas by axis, and distances.

    `distance` is over the linear axes, in mm; `turn` the largest rotary change, in degrees.
    """

    station: str
    deltas: tuple[tuple[str, Decimal, str], ...]  # axis, delta, unit
    distance: float
    turn: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """What differs between two marks of one document."""

    document: str
    start: str  # the mark or moment as resolved, in words
    end: str
    changes: tuple[Change, ...]
    positions: tuple[PositionChange, ...]
    respelt: int = 0  # values whose text changed but not their number
    start_commit: str = ""  # empty for pencil, and where there was nothing
    end_commit: str = ""
    clocks: Clocks | None = None  # where a moment was asked for, and stamps do not tell all
    unreadable: tuple[str, ...] = ()  # ends whose text cannot be read, in words: nothing compared


@dataclass(frozen=True, slots=True)
class Pencilled:
    """One value in pencil: the inked one beside it, whose it is, and since when.

    `contested` holds who inked it (or its coupled group) meanwhile.
    """

    address: str
    inked: Value | None
    value: Value | None  # None: to be taken out
    unit: str
    delta: Decimal | None
    who: Who
    at: datetime
    note: str = ""  # "found on disk"
    contested: Who | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """All pencil of one person on one document."""

    document: str
    who: Who
    since: datetime
    marks: tuple[Pencilled, ...]


@dataclass(frozen=True, slots=True)
class OnDisk:
    """A document whose file was changed outside the program since the last ink.

    `problems` where the changed text cannot be read; `gone` where the file is missing.
    """

    document: str
    changes: tuple[Change, ...]
    comments: int
    problems: tuple[Problem, ...] = ()
    gone: bool = False
    never_inked: bool = False
    extra: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Inked:
    """A save that is on the disk: its commit, and what the person should know."""

    document: str
    commit: str
    subject: str
    changes: tuple[Change, ...]
    messages: tuple[str, ...] = ()
    left: Draft | None = None  # where only some of the pencil was inked: the rest of it


@dataclass(frozen=True, slots=True)
class Decision:
    """Between whose values a merge decided; None and "" where that is older than both sides."""

    kept_by: Who | None
    kept_commit: str
    against_by: Who | None
    against_commit: str


@dataclass(frozen=True, slots=True)
class Traced:
    """One change in the life of a value. `runs` are the numbers of the runs made with it.

    Where a merge decided, `merged` tells between whom; the change goes from the value that it
    decided against to the one that stands, and `who` merged.
    """

    change: Change
    commit: str
    when: datetime
    who: Who
    reason: str
    verified: bool
    document: str
    runs: tuple[int, ...] = ()
    merged: Decision | None = None
