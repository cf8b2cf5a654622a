"""What an export is made from, and what it gives. Plain frozen values, no drawing.

A paper names one revision: the ink of the record that it shows. Numbers are as
typed until they are drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from engine.figures.inputs import Facts
from engine.views import Figure, Finding
from schemas.address import Value
from schemas.record import Record


@dataclass(frozen=True, slots=True)
class Stamp:
    """Which revision a paper shows, and how that revision stands. Empty words: nothing to say."""

    book: str
    book_id: str
    document: str
    key: str  # the record's identity
    ink: str  # ink-7
    commit: str
    when: datetime
    who: str
    printed: datetime
    signed: str
    accepted: bool
    confirmed: str
    superseded: str = ""
    pencil: str = ""
    others: str = ""

    @property
    def short(self) -> str:
        """The commit as people write it."""
        return self.commit[:10]

    @property
    def claim(self) -> str:
        """What the QR code says: enough to ask the book whether this paper is still current."""
        lines = [
            f"book {self.book_id}",
            f"record {self.key}",
            f"commit {self.commit}",
            f"witnessmark show {self.key} --at {self.commit[:16]}",
        ]
        return "\n".join([*lines, *(["with pencil, not inked"] if self.pencil else [])])


@dataclass(frozen=True)
class SetUp:
    """One revision of a record with all that a set-up sheet tells about it."""

    stamp: Stamp
    facts: Facts  # with the pencil on it where pencil is printed
    inked: Mapping[str, Value]
    pencil: Mapping[str, Value | None]
    unit: Callable[[str], str]
    figures: tuple[Figure, ...]
    findings: tuple[Finding, ...]
    photos: Mapping[str, bytes | None]
    placed: set[str] = field(default_factory=set)  # addresses that some page has shown by now

    @property
    def record(self) -> Record:
        """The record that figures and drawings follow."""
        return self.facts.record
