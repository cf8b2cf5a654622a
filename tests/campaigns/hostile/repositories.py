"""git's own files spoilt: links, pipes, garbage, locks, a false past. The book may refuse, in
words.
"""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from functools import partial

from tests.campaigns.hostile.input import Input, Room

NAME = "repositories"
FILES = ("HEAD", "config", "index", "packed-refs", "refs/heads/main", "refs/heads", "objects",
"objects/info",
         "logs", "logs/HEAD", "info", "info/exclude", "description", "hooks", "ORIG_HEAD",
         "FETCH_HEAD",
         "MERGE_HEAD", "COMMIT_EDITMSG", "shallow", "info/grafts", "objects/info/alternates",
         "commondir",
         "refs/replace", "worktrees", "modules", "refs/heads/odd", "refs/remotes",
         "objects/pack")  # fmt: skip
SOUND = ("index", "info/exclude", "description", "hooks", "ORIG_HEAD",
"FETCH_HEAD",
         "MERGE_HEAD", "COMMIT_EDITMSG")  # fmt: skip
LOCKS = ("index.lock", "HEAD.lock", "refs/heads/main.lock", "packed-refs.lock", "config.lock",
"shallow.lock",
         "refs/heads/main.lock/inner", "witnessmark/lock.lock")  # fmt: skip


def inputs() -> Iterator[Input]:
    """Each file in each shape; locks young and old; objects rewritten, emptied, taken away."""
    for file in FILES:
        for shape, lay in SHAPES.items():
            led = file == "index" and any(word in shape for word in ("link", "folder"))
            sound = file in SOUND and shape != "a pipe" and not led  # git writes through it
            yield Input(
                NAME, f"{file} is {shape}", partial(_shaped, f".git/{file}", lay), past=sound
            )
    for lock in LOCKS:
        for age in (0.0, 5.0, 3600.0, -3600.0):
            yield Input(NAME, f"{lock} of {age:.0f} s", partial(_lock, lock, age))
    for what in ("blob", "tree", "commit"):
        for spoil in ("emptied", "rewritten", "gone", "garbage"):
            yield Input(NAME, f"a {what} {spoil}", partial(_object, what, spoil), past=False)
    for name in ("detached", "on no branch", "bare beside", "git file", "packed", "unborn branch"):
        yield Input(NAME, name, partial(_arranged, name), past=name == "packed")


# shapes, for any place


def _garbage(room: Room, path: str) -> None:
    room.write(path, b"\x00\xff\xfe garbage \x1b[31m\n" * 9)


def _empty(room: Room, path: str) -> None:
    room.write(path, b"")


def _text(room: Room, path: str) -> None:
    room.write(path, "f" * 40 + "\n")


def _link(room: Room, path: str) -> None:
    (room.book / path).parent.mkdir(parents=True, exist_ok=True)
    (room.book / path).symlink_to(room.outside / "kept.txt")


def _link_to_nothing(room: Room, path: str) -> None:
    (room.book / path).parent.mkdir(parents=True, exist_ok=True)
    (room.book / path).symlink_to(room.outside / "nothing")


def _link_to_folder(room: Room, path: str) -> None:
    (room.book / path).parent.mkdir(parents=True, exist_ok=True)
    (room.book / path).symlink_to(room.outside / "folder")


def _folder(room: Room, path: str) -> None:
    (room.book / path).mkdir(parents=True)
    (room.book / path / "inner").write_text("x")


def _pipe(room: Room, path: str) -> None:
    (room.book / path).parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(room.book / path)


SHAPES: dict[str, Callable[[Room, str], None]] = {
    "garbage": _garbage, "empty": _empty, "another id": _text, "a link": _link,
    "a link to nothing": _link_to_nothing, "a link to a folder": _link_to_folder,
    "a folder": _folder,
    "a pipe": _pipe,
}  # fmt: skip


def clear(room: Room, path: str) -> None:
    """Take away whatever lies there."""
    target = room.book / path
    if target.is_dir() and not target.is_symlink():
        shutil.rmtree(target)
    else:
        target.unlink(missing_ok=True)


def _shaped(path: str, lay: Callable[[Room, str], None], room: Room) -> None:
    clear(room, path)
    lay(room, path)


def _lock(name: str, age: float, room: Room) -> None:
    room.write(f".git/{name}", b"")
    then = time.time() - age
    os.utime(room.git / name, (then, then))


def _object(what: str, spoil: str, room: Room) -> None:
    """Spoil an object of the first commit that the record still has in its past."""
    first = room.plain("rev-list", "--max-parents=0", "HEAD").split()[0]
    name = {
        "commit": first,
        "tree": f"{first}^{{tree}}",
        "blob": f"{first}:records/seat-op10.toml",
    }[what]
    oid = room.plain("rev-parse", name).strip()
    path = f".git/objects/{oid[:2]}/{oid[2:]}"
    (room.book / path).chmod(0o644)
    if spoil == "gone":
        clear(room, path)
    elif spoil == "rewritten":
        other = room.plain("rev-parse", "HEAD" + name.removeprefix(first)).strip()
        clear(room, path)
        shutil.copy(room.git / f"objects/{other[:2]}/{other[2:]}", room.book / path)
    else:
        room.write(path, b"" if spoil == "emptied" else b"garbage" * 9)


def _arranged(name: str, room: Room) -> None:
    if name == "detached":
        room.plain("checkout", "-q", "--detach")
    elif name == "on no branch":
        room.write(".git/HEAD", "ref: refs/tags/x\n")
    elif name == "unborn branch":
        room.write(".git/HEAD", "ref: refs/heads/none\n")
    elif name == "packed":
        room.plain("gc", "-q")
    elif name == "bare beside":
        room.plain("init", "-q", "--bare", "records/inner.git")
    else:
        shutil.move(room.git, room.box / "elsewhere")
        room.write(".git", f"gitdir: {room.box}/elsewhere\n")
