"""What happened around a record: runs, sign-offs, datum events, and what was acknowledged.

One file each, only ever added to, so that two boxes never write the same file.
Every moment has an offset from UTC; every commit is a full id.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, StringConstraints

from schemas.fields import Key, Section, Sha256, Text, field, needed, table
from schemas.number import Number
from schemas.record import RecordId


def _with_offset(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        raise ValueError(
            "a moment needs its offset from UTC, for example 2026-03-02T07:15:00+01:00"
        )
    return moment


Moment = Annotated[datetime, AfterValidator(_with_offset)]
Commit = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{40}([0-9a-f]{24})?$")]
StepKind = Literal["start", "confirm", "stage", "piece", "refill", "stop"]
EventKind = Literal["crash", "homing", "service", "jaws off", "vice off", "loader moved"]


class RunStep(Section):
    """One entry of a run's log."""

    what: StepKind = needed("what was done")
    at: Moment = needed("when")
    who: Key = needed("by whom: a key in people.toml")
    commit: Commit | None = field("revision of the record that the machine stood on")
    percent: Number | None = field("stage of prove-out", "%")
    piece: Literal["first", "last"] | None = field("which piece was checked")
    good: int | None = field("good parts so far")
    scrap: int | None = field("scrapped parts so far")
    note: Text | None = field("remark")


class RunHeader(Section):
    """Which lot this was."""

    id: Key = needed("identity of the run")
    record: RecordId = needed("record that was run")
    number: int = needed("first, second, … run of that record")
    commit: Commit = needed("revision of the record at the start")
    program_sha256: Sha256 | None = field("hash of the program at the start")
    quantity: int | None = field("quantity ordered")


class RunEnd(Section):
    """How it ended."""

    commit: Commit = needed("revision of the record at the stop")
    program_sha256: Sha256 | None = field("hash of the program at the stop")
    good: int = needed("good parts")
    scrap: int = needed("scrapped parts")
    inks: list[Commit] | None = field("revisions that were inked during the run")


class Run(Section):
    """One lot, from set-up to stop."""

    format: Literal[1] = needed("version of this file's format")
    run: RunHeader = needed("which lot this was")
    end: RunEnd | None = field("how it ended; absent while it runs")
    steps: dict[Key, RunStep] = table("entries of the log, numbered")


class SignOffHeader(Section):
    """A lead's acceptance of one exact revision."""

    id: Key = needed("identity of the sign-off")
    record: RecordId = needed("record that was signed off")
    at: Moment = needed("when")
    who: Key = needed("by whom: a key in people.toml")
    commit: Commit = needed("revision that was accepted")
    note: Text | None = field("remark")
    not_fitting: int | None = field("figures that did not fit, accepted for the reason in the note")
    cannot_tell: int | None = field("figures that could not be told for want of a value")


class Accepted(Section):
    """Hashes of everything that the acceptance covers: of values (`canonical.py`), and of files.

    In format 1 those of record, cell and policy were of the whole texts: there `formats` is empty.
    """

    record: Sha256 = needed("of the values of the record")
    program: Sha256 | None = field("of the part program")
    cell: Sha256 | None = field("of the values of the cell")
    policy: Sha256 = needed("of the values of book.toml")
    formats: dict[Key, int] = table("formats of record, cell and policy when that was hashed")
    photos: dict[Key, Sha256] = table("of the photos, by name")


class SignOff(Section):
    """A lead's acceptance of one exact revision of record, program, photos, cell and policy."""

    format: Literal[2] = needed("version of this file's format")
    sign_off: SignOffHeader = needed("who accepted what, and when")
    accepted: Accepted = needed("hashes of what was accepted")


class EventHeader(Section):
    """What happened to the cell."""

    cell: Text = needed("the cell")
    kind: EventKind = needed("what happened")
    at: Moment = needed("when")
    who: Key = needed("by whom it was noted")
    reason: Text = needed("in words")


class Event(Section):
    """Something after which positions taught earlier on a cell are suspect."""

    format: Literal[1] = needed("version of this file's format")
    event: EventHeader = needed("what happened")


class Acknowledged(Section):
    """What somebody took note of, and why."""

    commit: Commit = needed("the commit that is spoken of")
    at: Moment = needed("when")
    who: Key = needed("by whom: a key in people.toml")
    reason: Text = needed("in words")
    saves: list[Commit] | None = field("saves that are no longer in the past with it")


class Acknowledgement(Section):
    """A person's word that something which is wrong with the past is known and is to stay so."""

    format: Literal[1] = needed("version of this file's format")
    acknowledged: Acknowledged = needed("what was acknowledged")
