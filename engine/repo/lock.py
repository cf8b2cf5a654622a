"""One save at a time: a lock on a file that is never deleted.

The kernel lets the lock go when its process and every git that it started in
the save have ended, however they end. It is held only while saving, never while
somebody thinks. Network file systems are not
trusted with it: see `on_network`.
"""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from engine.repo.private import OddFile, open_private
from schemas.errors import BookError, Refused

PATIENCE = 30.0  # seconds: many saves' worth, still less than a person's patience
_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "fuse.sshfs", "ceph", "glusterfs"}


@contextmanager
def held(private: Path, name: str = "lock") -> Iterator[int]:
    """Hold the save lock; its handle, for children. Refused where others hold it for too long.

    Under another name it is another lock: `sync-lock` is held while boxes talk.
    """
    try:
        handle = open_private(private, name, os.O_RDWR, make=True)
    except OddFile as error:
        raise BookError(
            f"the lock of this book cannot be taken: {error.strerror}",
            where=str(error.filename),
            hint="Something else put it there. Move it away, and ask who.",
        ) from error
    try:
        _wait_for(handle)
        yield handle
    finally:
        os.close(handle)


def _wait_for(handle: int) -> None:
    end = time.monotonic() + PATIENCE
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            if time.monotonic() > end:
                raise Refused(
                    f"somebody else has been saving or syncing for {PATIENCE:.0f} seconds",
                    hint="Your pencil is kept. Try again; if it stays so, look for a hung program.",
                ) from None
            time.sleep(0.01)


def on_network(folder: Path) -> str:
    """Kind of network file system that a folder lies on; empty for a local one."""
    try:
        lines = Path("/proc/self/mounts").read_text("utf-8", "surrogateescape").splitlines()
    except OSError:
        return ""
    best, kind = "", ""
    place = f"{folder.resolve()}/"
    for line in lines:
        fields = line.split(" ")
        mount = fields[1].replace("\\040", " ").rstrip("/") + "/"
        if place.startswith(mount) and len(mount) >= len(best):
            best, kind = mount, fields[2]
    return kind if kind in _NETWORK else ""


def take_stale_aside(private: Path, branch: str, older_than: float = 10.0) -> list[str]:
    """Move git's left-over lock files out of the way; their names.

    Only while holding the save lock, only old ones, and only when no git
    process is at work in the book: a killed save must not block all later ones.
    """
    moved = []
    for name in (f"{branch}.lock", "HEAD.lock", "index.lock", "packed-refs.lock"):
        path = private.parent / name
        try:
            old = time.time() - path.stat().st_mtime > older_than
        except FileNotFoundError:
            continue
        if old and not _git_at_work(private.parent):
            aside = private / "aside"
            aside.mkdir(exist_ok=True)
            path.rename(aside / f"{int(time.time())}-{name.replace('/', '-')}")
            moved.append(name)
    return moved


def _git_at_work(repository: Path) -> bool:
    """Whether a git process that writes has this repository as its folder."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            words = (process / "cmdline").read_bytes().split(b"\0")
            reads_only = b"cat-file" in words
            if Path(os.fsdecode(words[0])).name == "git" and not reads_only:
                here = (process / "cwd").readlink()
                if (
                    here == repository.parent.resolve()
                    or repository.parent.resolve() in here.parents
                ):
                    return True
        except PermissionError:
            return True  # another account's git: where it works cannot be seen
        except OSError:
            continue
    return False
