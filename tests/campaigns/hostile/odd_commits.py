"""Odd commits: authors, messages, dates, parents and trailers that no program writes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from tests.campaigns.hostile.input import Room
from tests.mini_book import SEAT

RECORD = f"records/{SEAT}.toml"


@dataclass
class Parts:
    """What a commit is made of, as bytes where a program would write text."""

    tree: str
    parents: list[str]
    who: bytes = b"By Hand <hand@shop>"
    when: bytes = b"1772500000 +0100"
    message: bytes = b"by hand\n"
    more: list[bytes] = field(default_factory=list)

    def data(self) -> bytes:
        """The commit's own bytes."""
        lines = [b"tree " + self.tree.encode()]
        lines += [b"parent " + one.encode() for one in self.parents]
        lines += [word + self.who + b" " + self.when for word in (b"author ", b"committer ")]
        return b"\n".join([*lines, *self.more, b"", self.message])


def make(kind: str, room: Room) -> None:
    """An odd commit that changes a taught value, or joins what it should not."""
    text = (room.book / RECORD).read_text().replace("lift = 148.900", "lift = 149.900")
    blob = room.plain("hash-object", "-w", "--stdin", data=text.encode()).strip()
    room.plain("update-index", "--cacheinfo", f"100644,{blob},{RECORD}")
    parts = Parts(room.plain("write-tree").strip(), [room.plain("rev-parse", "HEAD").strip()])
    KINDS[kind](parts, room)
    words = ("hash-object", "-t", "commit", "-w", "--literally", "--stdin")
    room.plain("update-ref", "refs/heads/main", room.plain(*words, data=parts.data()).strip())
    room.plain("reset", "-q", "--hard", "HEAD")


def _said(message: bytes) -> Callable[[Parts, Room], None]:
    def change(parts: Parts, _: Room) -> None:
        parts.message = message

    return change


def _by(who: bytes) -> Callable[[Parts, Room], None]:
    def change(parts: Parts, _: Room) -> None:
        parts.who = who

    return change


def _at(when: bytes) -> Callable[[Parts, Room], None]:
    def change(parts: Parts, _: Room) -> None:
        parts.when = when

    return change


def _headed(more: bytes, message: bytes = b"by hand\n") -> Callable[[Parts, Room], None]:
    def change(parts: Parts, _: Room) -> None:
        parts.more, parts.message = [more], message

    return change


def _empty(parts: Parts, room: Room) -> None:
    parts.tree = room.plain("rev-parse", "HEAD^{tree}").strip()


def _octopus(parts: Parts, room: Room) -> None:
    parts.parents += room.plain("rev-parse", "HEAD^").split()
    parts.parents += room.plain("rev-list", "--max-parents=0", "HEAD").split()[:1]


def _two_roots(parts: Parts, room: Room) -> None:
    parts.parents += room.plain("commit-tree", parts.tree, "-m", "another beginning").split()


def _decides(parts: Parts, room: Room) -> None:
    tree = room.plain("rev-parse", "HEAD^{tree}").strip()
    parts.parents += room.plain("commit-tree", tree, "-p", "HEAD^", "-m", "other").split()


def _copied(parts: Parts, room: Room) -> None:
    last = room.plain("log", "-1", "--format=%B").encode()
    parts.message = b"a copy\n\n" + last.partition(b"\n\n")[2]


_FORGED = (b"x\n\nPerson: ole\nLogin: ole\nRecord: ../x\nKind: merge\nDraft: d-1\nFormat: 9\n"
           b"Reason: \x1b[2J\n")  # fmt: skip
_SIGNATURE = b"gpgsig -----BEGIN SSH SIGNATURE-----\n x\n -----END SSH SIGNATURE-----"
KINDS: dict[str, Callable[[Parts, Room], None]] = {
    "by escapes": _by(b"\x1b]0;x\x07Ev\xc2\x9bil \xe2\x80\xae <a\x1b@b>"),
    "by nobody": _by(b" <>"),
    "latin 1": _headed(b"encoding ISO-8859-1", b"caf\xe9 \xff\n"),
    "long subject": _said(b"x" * 200_000 + b"\n"),
    "in 1970": _at(b"0 +0000"),
    "in 2099": _at(b"4070908800 +0000"),
    "odd zone": _at(b"1772500000 +9959"),
    "beyond all dates": _at(b"99999999999999 +0000"),
    "stamped back": _at(b"1700000000 -0230"),
    "empty": _empty,
    "octopus": _octopus,
    "two roots": _two_roots,
    "merge that decides": _decides,
    "copied trailers": _copied,
    "forged trailers": _said(_FORGED),
    "signed by nobody": _headed(_SIGNATURE),
    "no message": _said(b""),
    "NUL in message": _said(b"a\0b\n"),
    "newline in trailer": _said(b"x\n\nLogin: ole\n  Person: mira\n\r\nPerson: a\rb\n"),
}
