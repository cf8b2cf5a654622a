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
from engine.repo.rights import no_right_to_write, stop_if_anothers
from schemas.errors import BookError, Refused

_KEPT = "Nothing was saved, and your pencil is kept."
PATIENCE = 30.0  # seconds: many saves' worth, still less than a person's patience
_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "fuse.sshfs", "ceph", "glusterfs"}


@contextmanager
def held(private: Path, name: str = "lock", *, wait: bool = True) -> Iterator[int]:
    """Hold the save lock; its handle, for children. Refused where others hold it for too long.

    Under another name it is another lock: `sync-lock` is held while boxes talk. Without
    `wait` it is refused at once.
    """
    stop_if_anothers(private.parent, kept=_KEPT)
    try:
        handle = open_private(private, name, os.O_RDWR, make=True)
    except OddFile as error:
        raise BookError(
            f"the lock of this book cannot be taken: {error.strerror}",
            where=str(error.filename),
            hint="Something else put it there. Move it away, and ask who.",
        ) from error
    except PermissionError as error:
        raise no_right_to_write(Path(error.filename), private.parent, kept=_KEPT) from error
    try:
        _wait_for(handle, PATIENCE if wait else 0.0)
        yield handle
    finally:
        os.close(handle)


def _wait_for(handle: int, patience: float) -> None:
    end = time.monotonic() + patience
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            if time.monotonic() >= end:
                raise Refused(
                    f"somebody else has been saving or syncing for {patience:.0f} seconds",
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
