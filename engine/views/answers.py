"""What the engine answers with: plain frozen values that both faces show.

Nothing here computes and nothing here can change. Moments are aware datetimes,
commits are full ids, people are keys of people.toml (`name` beside them for the
eye), numbers are as typed.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    start_commit: str = ""  # empty for pencil, and where there was nothing
    end_commit: str = ""


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
class Arrived:
    """One thing that came in by a sync: a value, or a whole document.

    `what` is new, gone, renamed (`change` is None) or changed.
    """

    document: str
    what: Literal["new", "gone", "renamed", "changed"]
    change: Change | None
    who: Who
    commit: str


@dataclass(frozen=True, slots=True)
class Disputed:
    """A value that two boxes changed: the shared one stands, the other waits in pencil.

    `aside_by` inked `aside` in `aside_commit`; None stands for no value.
    """

    document: str
    address: str
    unit: str
    shared: Value | None
    shared_by: Who | None
    aside: Value | None
    aside_by: Who
    aside_commit: str


@dataclass(frozen=True, slots=True)
class Sent:
    """A commit that goes, went or waits to go to the meeting point."""

    commit: str
    when: datetime
    who: Who
    subject: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """What the meeting point has not got yet. `where` is empty where none is set.

    `seen` is when this box last looked there.
    """

    where: str
    commits: tuple[Sent, ...] = ()
    seen: datetime | None = None


@dataclass(frozen=True, slots=True)
class Synced:
    """What a sync did. `problem` says why not everything went; then `waiting` is what did not.

    `files` are paths of programs, photos, logs, sign-offs and events that came in.
    """

    where: str
    head: str
    came: tuple[Arrived, ...] = ()
    files: tuple[str, ...] = ()
    went: tuple[Sent, ...] = ()
    contested: tuple[Disputed, ...] = ()
    waiting: tuple[Sent, ...] = ()
    messages: tuple[str, ...] = ()
    merged: str = ""  # the commit that joined both sides, where one was needed
    problem: str = ""


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
