"""Records as a whole: the list, findings, runs, marks.

Moments are aware datetimes, commits are full ids, people are keys of people.toml.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from engine.views.people import Who
from engine.views.values import Draft
from schemas.document import DocumentKind
from schemas.errors import Problem

Level = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A named point in a record's past."""

    name: str  # ink-12, run-3, sign-off-1; of a merge the beginning of its commit
    kind: Literal["ink", "merge", "run", "sign-off", "taken out"]
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
    """One record as the book's list shows it. `problems` where its file cannot be read.

    `findings` is None where the checks were not through yet; where the record was not looked at
    yet, either, it is not `known`: then name, identity, pencil and last ink are all there is.
    """

    record: str
    id: str
    part: str
    cell: str
    last_ink: Mark | None
    last_run: RunState | None
    signed_off: Literal["yes", "void", "no"]
    changed_since_run: int | None  # values; None where it never ran
    pencil: tuple[Draft, ...]
    findings: tuple[Finding, ...] | None
    problems: tuple[Problem, ...] = ()
    retired: bool = False
    confirmed: Confirmed | None = None
    known: bool = True


@dataclass(frozen=True, slots=True)
class TakenOut:
    """A document that was in the book once and is not now, by its last name.

    `by` is the commit that took it out; None where a merge left it out, which is no commit's
    change. `part` and `cell` are empty where its last text does not say them.
    """

    document: str
    id: str  # a record's identity, the name of any other document
    kind: DocumentKind
    part: str
    cell: str
    last_ink: Mark
    by: Mark | None
