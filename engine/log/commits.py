"""The past of a book: who saved what, when and why, and the life of every document.

Two ways of knowing it answer the same questions with the same answers: `walk`
reads all of git at once and is the oracle, `index` keeps what it read in the
person's own cache and reads only what is new. Everything either of them knows can
be thrown away and read again. Order is that of history: parents before children.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from engine.log.clocks import Jumps
from engine.log.decisions import Decided
from engine.repo.commit_object import CHECK, EMAIL_HOST, RawCommit
from engine.repo.message import subject_of, trailers_of
from engine.views import Who
from schemas.address import Value


@dataclass(frozen=True, slots=True)
class Saved:
    """One commit: who, when, why.

    `whole` where trailers, author, committer and check sum agree: what is told of as verified.
    `summed` where it, or a commit in its past, has a check sum that agrees.
    """

    id: str
    parents: tuple[str, ...]
    who: Who
    when: datetime
    subject: str
    reason: str
    kind: str
    draft: str
    whole: bool
    summed: bool = False
    stamp: int = 0  # seconds since 1970: the committer's, which questions about moments go by


@dataclass(frozen=True, slots=True)
class DocumentChange:
    """One change of one document: its blob in each parent and afterwards ("" for none)."""

    saved: Saved
    path: str
    olds: tuple[str, ...]
    new: str

    @property
    def only_decides(self) -> bool:
        """Whether a merge kept the text of one side, to the letter, against another's."""
        return len(self.olds) > 1 and self.new in self.olds

    @property
    def is_ink(self) -> bool:
        """Whether it left a text that was not there before: what `ink-12` counts."""
        return bool(self.new) and not self.only_decides


@dataclass(frozen=True, slots=True)
class ValueChange:
    """One change of one value, by the commit that made it. None stands for no value.

    A commit that leaves a text which is no TOML has one row, `UNREADABLE`, at no address and
    without values: what the text said before is not gone, and stands until it is read again.
    """

    saved: Saved
    key: str
    path: str  # of the document after it; before it where it was taken out
    address: str
    old: Value | None
    new: Value | None
    decided: Decided | None = None  # where a merge kept one side's value against another's

    @property
    def maker(self) -> str:
        """The commit in which somebody inked the value; empty where that is older than a merge."""
        return self.decided.kept if self.decided else self.saved.id


UNREADABLE: tuple[str, None, None] = ("", None, None)  # address, old, new


def is_whole_text(address: str) -> bool:
    """Covers the rows of texts that cannot be read, and no value."""
    return address == ""


@dataclass(frozen=True, slots=True)
class ChangeQuery:
    """Which rows of the whole book are asked for; what is left out does not limit."""

    person: str = ""
    since: datetime | None = None
    until: datetime | None = None
    covers: Callable[[str], bool] | None = None  # of an address
    key: str = ""  # one document
    without_reason: bool = False
    replaced: bool = False  # only where a value came in place of another
    now: datetime | None = None  # by the clock of whoever asks; stamps of the future tell nothing

    def takes(self, saved: Saved) -> bool:
        """Whether rows of a commit are wanted, as far as it tells itself: not `since`."""
        return (
            (not self.person or saved.who.key == self.person)
            and (self.until is None or saved.stamp <= self.until.timestamp())
            and (not self.without_reason or not saved.reason)
        )


class PastSource(Protocol):
    """One way of knowing the past. `rewritten` says how what was known came to nothing."""

    head: str
    rewritten: str

    def refresh(self, head: str) -> None:
        """Take in what is new up to a head; all of it anew if the past was rewritten."""

    def life(self, key: str) -> list[DocumentChange]:
        """Every change of a document, oldest first."""

    def last_steps(self) -> dict[str, tuple[int, DocumentChange]]:
        """The last step of each record that left a text, and how many inks there were."""

    def last_with(self, texts: Mapping[str, str], commit: str) -> dict[str, tuple[str, str]]:
        """The last commit in the past of a given one that left each document with its text,
        and where that lay then.

        `texts` has blobs by document; what never had its text is left out.
        """

    def documents(self) -> list[str]:
        """The keys of all documents that ever were, sorted."""

    def keys_at(self, path: str) -> list[str]:
        """The keys of all records that ever lay at a path, sorted."""

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history, from 0; -1 where it does not."""

    def has(self, commit: str) -> bool:
        """Whether a commit seems to be in the past of the head; a damaged index may miss one."""

    def known_at(self, commit: str) -> Callable[[str], bool]:
        """Whether a commit is a given one or in its past; nothing is where that is unknown."""

    def in_line(self, commits: Sequence[str]) -> bool:
        """Whether commits, in the order of this way, stand one on another, none side by side."""

    def rank(self, commit: str) -> tuple[int, int]:
        """Sorts commits: parents before children, side by side by their clocks; -1 for none.

        First the latest stamp up to it: no clock that was set back undoes the order.
        """

    def count(self) -> int:
        """How many commits there are."""

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so; at least four digits."""

    def head_at(
        self, moment: datetime, now: datetime | None = None, *, doubtful: bool = False
    ) -> str:
        """What the head surely was at a moment, going back along first parents; "" before the
        first. With `doubtful`: what it may have been, where stamps tell nothing (see `clocks`).
        """

    def jumps(self) -> Jumps:
        """Where stamps run backwards."""

    def ahead(self, now: datetime) -> list[str]:
        """Commits whose stamps lie in the future of somebody's clock, oldest first."""

    def is_ahead(self, now: datetime) -> bool:
        """Whether some stamp lies in the future."""

    def stood_in(
        self, changes: Sequence[tuple[str, str]], spans: Sequence[tuple[str, str]]
    ) -> list[list[int]]:
        """For each change, the spans in whose states it stood, by their places.

        `changes`: (commit, address) of one document, oldest first; `spans`: (commit at the start,
        commit at the end, or "" for the head).
        """

    def rows(self, key: str, covers: Callable[[str], bool], within: str = "") -> list[ValueChange]:
        """Every change of the covered values of a document, oldest first.

        `within`: text that every covered address has but that of a whole text; it only makes
        the answer faster.
        """

    def rows_of_all(self, wanted: ChangeQuery) -> Iterator[ValueChange]:
        """Changes of values of records, cells, people and book, newest first."""

    def lives(self) -> dict[str, str]:
        """How far the past of each document goes, by key: another text once there is a new step."""

    def close(self) -> None:
        """Let files go."""


def read_saved(raw: RawCommit, after_sums: Callable[[str], bool] = lambda _: False) -> Saved:
    """Who, when and why, of a commit as git has it.

    `after_sums` says of a parent whether it is `summed`. Earlier programs wrote no check
    sums: their commits are taken at their word, until the first one that has a sum. What
    has none and comes after it was not made by the program.
    """
    trailers = trailers_of(raw.message)
    agrees = CHECK in trailers and raw.sum_agrees()
    summed = agrees or any(after_sums(parent) for parent in raw.parents)
    email = raw.author[1]
    person = email.removesuffix(f"@{EMAIL_HOST}") if email.endswith(f"@{EMAIL_HOST}") else ""
    whole = bool(person) and person == trailers.get("Person") and raw.author == raw.committer
    whole = whole and (agrees or not (summed or CHECK in trailers))
    return Saved(
        raw.id,
        raw.parents,
        Who(person or email, raw.author[0], trailers.get("Login", "")),
        raw.when,
        subject_of(raw.message),
        trailers.get("Reason", ""),
        trailers.get("Kind", ""),
        trailers.get("Draft", ""),
        whole and "Kind" in trailers,
        summed,
        raw.stamp,
    )
