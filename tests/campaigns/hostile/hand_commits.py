"""What anybody can commit by hand or bring by sync: odd values, broken texts, odd names, odd
commits.

What was ever committed stays listable: every question about the past has an answer, whatever stands
in one commit of it. Each content is tried as it stands now, and as a past that was put right.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tests.campaigns.hostile import odd_commits
from tests.campaigns.hostile.input import Input, Room
from tests.mini_book import SEAT

NAME = "hand commits"
RECORD, OTHER = f"records/{SEAT}.toml", "records/bush-op20.toml"
ODD = {
    "nan": "nan",
    "inf": "-inf",
    "1e30": "1e30",
    "1e400": "1e400",
    "1e-400": "1e-400",
    "hex": "0xff",
    "a date": "2026-03-02",
    "a time": "07:32:00",
    "a moment": "2026-03-02T07:32:00Z",
    "true": "true",
    "a list": "[1, [2, {a = 1}]]",
    "a table": "{ a = 1, b = { c = nan } }",
    "empty": '""',
    "long": f'"{"x" * 9000}"',
    "negative": "-5",
    "many digits": "1." + "3" * 400,
    "escapes": r'"\u001B]0;x\u0007\u202E\u200B\u009B31m"',
    "markup": '"[/x] [bold]"',
    "formula": '"=HYPERLINK(1)"',
    "wide formula": '"\uff1dcmd"',
    "path": '"../../outside/kept.txt"',
    "lines": '"""\na\n\nb\n"""',
    "long number": "9" * 4000,
}
SLOTS = {
    "a taught value": (RECORD, "reach = 612.350", "reach = {}"),
    "a count": (RECORD, "quantity = 110", "quantity = {}"),
    "a text": (RECORD, 'kept_at = "rack 4"', "kept_at = {}"),
    "a link": (RECORD, 'file = "programs/seat.nc"', "file = {}"),
    "the id": (RECORD, 'id = "wm-seat10"', "id = {}"),
    "the format": (RECORD, "format = 2", "format = {}"),
    "the cell": (RECORD, 'cell = "lathe"', "cell = {}"),
    "a cell's axis": ("cells/lathe.toml", "most = 1000", "most = {}"),
    "a name of a person": ("people.toml", 'name = "Mira Falk"', "name = {}"),
    "the roles": ("people.toml", "roles = [", "roles = {} #"),
    "the book's name": ("book.toml", 'name = "Little shop"', "name = {}"),
    "the policy": ("book.toml", "reason_for = [", "reason_for = {} #"),
}
TEXTS: dict[str, bytes] = {
    "nothing": b"",
    "conflict markers": b"@MARKERS",
    "not UTF-8": b'format = 2\nx = "\xe9\xff"\n',
    "a BOM": b"@BOM",
    "CRLF": b"@CRLF",
    "NUL": b"format = 2\0\n",
    "no TOML": b"this is { not TOML\n",
    "twice a key": b"@TWICE",
    "deep": b"a" + b".a" * 4000 + b" = 1\n",
    "deep lists": b"a = " + b"[" * 9000 + b"]" * 9000 + b"\n",
    "two megabytes": b"# " + b"x" * 2_000_000 + b"\n",
    "only a comment": b"# nothing\n",
    "other format": b"format = 99\n",
    "no id": b"@NOID",
    "strange section": b"@STRANGE",
}
NAMES = (
    "caf\udce9.toml",
    "a\nb.toml",
    'qu"ote.toml',
    "tab\tbed.toml",
    "-dash.toml",
    "UPPER.toml",
    "SEAT-op10.toml",
    "x" * 200 + ".toml",
    "sp ace.toml",
    "\x1b[2J.toml",
    "\u202eesrever.toml",
    "con.toml",
    ".hidden.toml",
    "deep/er.toml",
    "seat-op10.toml.toml",
    "=cmd.toml",
)
FOLDERS = (
    "records",
    "cells",
    "runs/wm-seat10",
    "signoffs/wm-seat10",
    "events/lathe",
    "programs",
    "photos",
)
GONE = (
    RECORD,
    OTHER,
    "cells/lathe.toml",
    "people.toml",
    "book.toml",
    "programs/seat.nc",
    "photos/seat-jaws.jpg",
    "records",
    "cells",
)
LINKABLE = (RECORD, "records/odd.toml", "programs/seat.nc", "runs")
MODES = {"a link": "120000", "another repository": "160000", "executable": "100755"}


def inputs() -> Iterator[Input]:
    """Values by slots, texts by files, names by folders, commits, modes, removals; mended too."""
    yield from _contents()
    for folder in FOLDERS:
        for each in NAMES:
            yield Input(NAME, f"{folder} has {each!r}", partial(_named, f"{folder}/{each}"))
    for kind in odd_commits.KINDS:
        yield Input(NAME, f"a commit {kind}", partial(odd_commits.make, kind))
    for path in GONE:
        for mended in (False, True):
            sound = mended or path != "book.toml"
            say = f"git rm {path}{', mended' * mended}"
            yield Input(NAME, say, partial(_gone, path, mended), past=sound)
    for path in (*LINKABLE, "book.toml", "cells"):
        for name, mode in MODES.items():
            sound = path in LINKABLE and name == "a link"  # the others leave no record there
            yield Input(NAME, f"{path} is {name}", partial(_mode, path, mode), past=sound)
    yield Input(NAME, "one record twice", _twice)
    yield Input(NAME, "a record moved by hand", _moved)


def _contents() -> Iterator[Input]:
    for slot, where in SLOTS.items():
        for name, text in ODD.items():
            for mended in (False, True):
                say, sound = f"{slot} is {name}{', mended' * mended}", slot != "the id" or mended
                yield Input(NAME, say, partial(_value, *where, text, mended), past=sound)
    for path in (RECORD, "cells/lathe.toml", "people.toml", "book.toml"):
        for name, data in TEXTS.items():
            for mended in (False, True):
                say = f"{path} is {name}{', mended' * mended}"
                yield Input(NAME, say, partial(_text, path, data, mended))


def commit(room: Room, message: bytes = b"by hand\n") -> None:
    """Commit what the index has, and put the work tree in order."""
    tree = room.plain("write-tree").strip()
    made = room.plain("commit-tree", tree, "-p", "HEAD", "-F", "-", data=message).strip()
    room.plain("update-ref", "refs/heads/main", made)
    room.plain("reset", "-q", "--hard", "HEAD")


def put(room: Room, path: str, data: bytes, mode: str = "100644") -> None:
    """Set a path of the index."""
    blob = room.plain("hash-object", "-w", "--stdin", data=data).strip()
    line = f"{mode} {blob}\t{path}\0".encode("utf-8", "surrogateescape")
    room.plain("update-index", "-z", "--add", "--index-info", data=line)


def _mend(room: Room, mended: bool, path: str, data: bytes) -> None:
    if mended:
        put(room, path, data)
        commit(room, b"put right by hand\n")


def _value(path: str, old: str, new: str, text: str, mended: bool, room: Room) -> None:
    was = (room.book / path).read_text()
    if old not in was and path == RECORD:  # the pattern has saved once already
        old = next(
            line for line in was.splitlines() if line.startswith(new.partition(" =")[0] + " =")
        )
    assert old in was, f"{path} lacks {old}"
    put(room, path, was.replace(old, new.format(text), 1).encode())
    commit(room)
    _mend(room, mended, path, was.encode())


def _text(path: str, data: bytes, mended: bool, room: Room) -> None:
    was = (room.book / path).read_bytes()
    lines = was.splitlines(keepends=True)
    made = {
        b"@MARKERS": b"".join(
            [
                *lines[:4],
                b"<<<<<<< HEAD\n",
                lines[4],
                b"=======\n",
                lines[4],
                b">>>>>>> x\n",
                *lines[5:],
            ]
        ),
        b"@BOM": b"\xef\xbb\xbf" + was,
        b"@CRLF": was.replace(b"\n", b"\r\n"),
        b"@TWICE": was + was,
        b"@NOID": was.replace(b"id = ", b"identity = "),
        b"@STRANGE": was + b"\n[strange]\nx = 1\n",
    }.get(data, data)
    put(room, path, made)
    commit(room)
    _mend(room, mended, path, was)


def _named(path: str, room: Room) -> None:
    put(room, path, (room.book / RECORD).read_bytes().replace(b"wm-seat10", b"wm-other1"))
    commit(room)


def _gone(path: str, mended: bool, room: Room) -> None:
    room.plain("rm", "-rq", "--cached", path)
    commit(room, b"taken out by hand\n")
    if mended:
        room.plain("read-tree", "HEAD^")
        commit(room, b"put back by hand\n")


def _mode(path: str, mode: str, room: Room) -> None:
    room.plain("rm", "-rq", "--cached", "--ignore-unmatch", path)
    if mode == "160000":
        line = f"{mode} {room.plain('rev-parse', 'HEAD').strip()}\t{path}\0"
        room.plain("update-index", "-z", "--add", "--index-info", data=line.encode())
    else:
        own = (room.book / RECORD).read_bytes() if mode == "100755" else b"../../outside/kept.txt"
        put(room, path, own, mode)
    commit(room)


def _twice(room: Room) -> None:
    put(room, "records/twin.toml", (room.book / RECORD).read_bytes())
    commit(room)


def _moved(room: Room) -> None:
    room.plain("mv", RECORD, "records/moved.toml")
    commit(room)
    room.plain("mv", "records/moved.toml", RECORD)
    commit(room)
