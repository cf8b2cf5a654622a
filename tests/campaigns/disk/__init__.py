"""A disk under orders: it refuses, kills or takes notes at the n-th call of one kind.

A small library is compiled once for a process (where there is a compiler) and preloaded into it,
and so into every git that it starts. All of them share one page of orders, so the n-th call is
counted over all processes, and whether an order was carried out is seen in the page itself.
"""

from __future__ import annotations

import ctypes
import errno
import mmap
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import IntEnum
from pathlib import Path

SOURCE = Path(__file__).parent / "disk.c"
PAGE = "CAMPAIGN_DISK"  # the variable that names the page of orders


class Call(IntEnum):
    """Kinds of calls, as in disk.c."""

    READING, WRITING, WRITE, FLUSH, RENAME, LINK, UNLINK, MKDIR, LOCK = range(9)


class Mode(IntEnum):
    """What is to happen at the n-th call, as in disk.c."""

    OFF, COUNT, ONCE, FROM_THEN_ON, KILL, KILL_ALL, RECORD = range(7)


_FULL = (errno.EIO, errno.ENOSPC, errno.EDQUOT)
_ANY = (errno.EIO, errno.ENOSPC, errno.EROFS, errno.EDQUOT)
ERRORS: dict[Call, tuple[int, ...]] = {
    Call.READING: (errno.EIO,),
    Call.WRITING: _ANY,
    Call.WRITE: _FULL,
    Call.FLUSH: _FULL,
    Call.RENAME: _ANY,
    Call.LINK: _ANY,
    Call.UNLINK: (errno.EIO, errno.EROFS),
    Call.MKDIR: _ANY,
    Call.LOCK: (errno.EIO, errno.ENOLCK),
}


class _Orders(ctypes.Structure):
    _fields_ = (
        ("mode", ctypes.c_int), ("kind", ctypes.c_int), ("when", ctypes.c_int), ("error",
        ctypes.c_int),
        ("fired", ctypes.c_int), ("busy", ctypes.c_int), ("count", ctypes.c_int * len(Call)),
        ("root", ctypes.c_char * 1024), ("log", ctypes.c_char * 1024),
    )  # fmt: skip


def why_not() -> str:
    """Why there can be no such disk here; empty where there can."""
    if not sys.platform.startswith("linux"):
        return "needs Linux"
    return "" if shutil.which("cc") else "needs a C compiler (cc)"


def preload(place: Path) -> dict[str, str]:
    """The environment in which a process and its children have the library; compiles it."""
    library, page = place / "disk.so", place / "disk.orders"
    words = ["cc", "-shared", "-fPIC", "-O1", "-o", str(library), str(SOURCE), "-ldl"]
    subprocess.run(words, check=True, capture_output=True)
    page.write_bytes(b"\0" * ctypes.sizeof(_Orders))
    return {"LD_PRELOAD": str(library), PAGE: str(page)}


class Disk:
    """The page of orders, in a process that has the library."""

    def __init__(self) -> None:
        with open(os.environ[PAGE], "r+b") as file:  # noqa: PTH123 (mmap wants a handle)
            self._page = mmap.mmap(file.fileno(), ctypes.sizeof(_Orders))
        self._orders = _Orders.from_buffer(self._page)

    @contextmanager
    def ordered(
        self, mode: Mode, root: Path, call: Call = Call.WRITE, when: int = 0, error: int = 0,
        log: Path | None = None,
    ) -> Iterator[None]:  # fmt: skip
        """Let the disk do this, below a folder, until the block ends."""
        orders = self._orders
        orders.root, orders.log = str(root).encode(), str(log or "").encode()
        orders.kind, orders.when, orders.error, orders.fired, orders.busy = call, when, error, 0, 0
        orders.count = (ctypes.c_int * len(Call))()
        orders.mode = mode
        try:
            yield
        finally:
            orders.mode = Mode.OFF

    @property
    def fired(self) -> bool:
        """Whether the order of the last block was carried out."""
        return bool(self._orders.fired)

    @property
    def counts(self) -> dict[Call, int]:
        """How many calls of each kind there were in the last block."""
        return {call: self._orders.count[call] for call in Call}
