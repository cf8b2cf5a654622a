"""What came, went and waits between boxes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from engine.views.people import Who
from engine.views.values import Change
from schemas.address import Value


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
    """A value that two boxes decided: the shared one stands, the other waits in pencil.

    `aside_by` inked `aside` in `aside_commit`; None stands for no value. `shared` is what is
    shared from now on, which is this box's where the other one took out what this one changed.
    """

    document: str
    address: str
    unit: str
    shared: Value | None
    shared_by: Who | None
    aside: Value | None
    aside_by: Who
    aside_commit: str
    shared_reason: str = ""
    aside_reason: str = ""


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
