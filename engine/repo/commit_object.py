"""A commit as git stores it: its bytes, the people in it, and its moment.

Reading never fails: what is malformed comes out as nothing, or as the epoch, for
a book's past may hold commits that any program made.

A commit that is written here ends with a check sum over all the rest of it: parents,
files, person, moment and message. Its trailers alone, copied into another commit, do
not agree with that sum. It is no signature: whoever has the program can make one.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from functools import lru_cache

from engine.repo.message import trailers_of

_OFFSET = re.compile(r"([+-])([0-9]{2}):?([0-5][0-9])")

CHECK = "Check"  # the trailer with the sum; the last line of a message
EMAIL_HOST = "witnessmark"  # `<person>@witnessmark`: a commit by somebody whom the book knows


@dataclass(frozen=True, slots=True)
class Signature:
    """Author and committer of a commit: one person at one moment."""

    name: str
    email: str
    when: datetime

    def stamp(self) -> str:
        """The moment as git wants it: seconds and offset."""
        return f"{int(self.when.timestamp())} {self.when.strftime('%z') or '+0000'}"


@dataclass(frozen=True, slots=True)
class RawCommit:
    """A commit as it stands in the repository, nothing interpreted."""

    id: str
    parents: tuple[str, ...]
    author: tuple[str, str]  # name, email
    committer: tuple[str, str]
    when: datetime
    message: str
    tree: str = ""
    stamps: tuple[str, str] = ("", "")  # author's and committer's moment, as git writes them

    @property
    def stamp(self) -> int:
        """When it was put where it stands, by the committer's clock: seconds since 1970."""
        made, late = self.stamps
        return int((self.when if late and late == made else moment_of(late)).timestamp())

    def sum_agrees(self) -> bool:
        """Whether the message ends with the check sum over this very commit."""
        text, _, said = self.message.rstrip("\n").rpartition(f"\n{CHECK}: ")
        if not said or self.author != self.committer or self.stamps[0] != self.stamps[1]:
            return False
        who = f"{self.author[0]} <{self.author[1]}> {self.stamps[0]}"
        whole = _bytes_of(self.tree, self.parents, who, text + "\n")
        return said == hashlib.sha256(whole).hexdigest()


def read_commit(oid: str, data: bytes) -> RawCommit:
    """A commit by its own bytes."""
    head, _, message = data.decode("utf-8", "replace").partition("\n\n")
    parents, people = [], {}
    for line in head.split("\n"):
        key, _, rest = line.partition(" ")
        if key == "parent":
            parents.append(rest)
        elif key in ("author", "committer"):
            people[key] = rest
    author, stamp = _person(people.get("author", ""))
    committer, late = _person(people.get("committer", ""))
    when = moment_of(stamp)
    return RawCommit(
        oid, tuple(parents), author, committer, when, message, tree_of(data), (stamp, late)
    )


def write_commit(tree: str, parents: Sequence[str], person: Signature, message: str) -> bytes:
    """The bytes of a commit; one whose message ends in trailers gets its check sum as the last."""
    who = f"{_plain(person.name)} <{_plain(person.email)}> {person.stamp()}"
    data = _bytes_of(tree, parents, who, message.replace("\0", "").rstrip("\n") + "\n")
    if not trailers_of(message):
        return data
    return data + f"{CHECK}: {hashlib.sha256(data).hexdigest()}\n".encode()


def _bytes_of(tree: str, parents: Sequence[str], who: str, message: str) -> bytes:
    head = [f"tree {tree}", *(f"parent {parent}" for parent in parents)]
    head += [f"author {who}", f"committer {who}"]
    return ("\n".join(head) + "\n\n" + message).encode("utf-8", "surrogateescape")


def tree_of(data: bytes) -> str:
    """The tree that a commit names; empty for bytes that are no commit."""
    head = data.partition(b"\n")[0]
    return head[5:].decode() if head.startswith(b"tree ") else ""


def _plain(text: str) -> str:
    """A name or address without the signs that end it in a commit."""
    return "".join(sign for sign in text if sign not in "<>\n\0").strip()


def _person(text: str) -> tuple[tuple[str, str], str]:
    """`Name <mail> 1700000000 +0100` in its parts."""
    name, _, rest = text.partition(" <")
    email, _, stamp = rest.rpartition("> ")
    return (name, email), stamp


def moment_of(stamp: str) -> datetime:
    """The moment of `1700000000 +0100`; the epoch where it is malformed."""
    seconds, _, offset = stamp.partition(" ")
    try:
        return datetime.fromtimestamp(int(seconds), _zone(offset))
    except (ValueError, OverflowError, OSError):
        return datetime.fromisoformat("1970-01-01T00:00:00+00:00")


@lru_cache(maxsize=256)
def _zone(offset: str) -> timezone:
    """The zone of `+0530`; UTC where none is said. ValueError where it is malformed.

    Read here: `strptime` loads a module when it is first called, which an account may not be
    able to read.
    """
    found = _OFFSET.fullmatch(offset or "+0000")
    if found is None:
        raise ValueError(offset)
    sign, hours, minutes = found.groups()
    ahead = timedelta(hours=int(hours), minutes=int(minutes))
    return timezone(-ahead if sign == "-" else ahead)
