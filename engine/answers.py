"""What the engine answers with: plain frozen values that both faces show.

Nothing here computes and nothing here can change. Moments are aware datetimes,
commits are full ids, people are keys of people.toml (`name` beside them for the
eye), numbers are as typed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Literal

from schemas.address import Tree, Value
from schemas.errors import Problem

Level = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Who:
    """A person as history knows them: key, name for the eye, and the login that was used."""

    key: str
    name: str
    login: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs. `delta` is new minus old for numbers, in `unit`."""

    address: str
    old: Value | None
    new: Value | None
    unit: str
    delta: Decimal | None


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
class Inked:
    """A save that is on the disk: its commit, and what the person should know."""

    document: str
    commit: str
    subject: str
    changes: tuple[Change, ...]
    messages: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Traced:
    """One change in the life of a value. `runs` are the numbers of the runs made with it."""

    change: Change
    commit: str
    when: datetime
    who: Who
    reason: str
    verified: bool
    document: str
    runs: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """A named point in a record's past."""

    name: str  # ink-12, run-3, sign-off-1
    kind: Literal["ink", "run", "sign-off"]
    commit: str
    when: datetime
    who: Who
    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check has to say."""

    rule: str
    level: Level
    record: str
    address: str
    message: str
    hint: str
    file: str
    line: int = 0


@dataclass(frozen=True, slots=True)
class RunState:
    """One run as it stands. `stopped` is None while it runs."""

    number: int
    id: str
    started: datetime
    stopped: datetime | None
    commit: str
    end_commit: str
    quantity: int | None
    good: int
    scrap: int
    who: Who


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry of a run's log. `text` says what was done, counts and remark included."""

    run: int
    what: str
    at: datetime
    who: Who
    commit: str
    text: str


@dataclass(frozen=True, slots=True)
class Confirmed:
    """The last time that inked values were read back at the machine.

    `still` is False where something was inked since: what the machine holds is not what
    stands in the book.
    """

    when: datetime
    who: Who
    commit: str
    still: bool


@dataclass(frozen=True, slots=True)
class Listed:
    """One record as the book's list shows it. `problems` where its file cannot be read."""

    record: str
    id: str
    part: str
    cell: str
    last_ink: Mark | None
    last_run: RunState | None
    signed_off: Literal["yes", "void", "no"]
    changed_since_run: int | None  # values; None where it never ran
    pencil: tuple[Draft, ...]
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...] = ()
    retired: bool = False
    confirmed: Confirmed | None = None


@dataclass(frozen=True, slots=True)
class Shown:
    """A document at a mark."""

    document: str
    commit: str
    mark: str
    values: Tree


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
