"""On the disk before anybody is told: what is flushed here outlives a power cut.

A file is written beside its target, flushed, and renamed over it, and the name is
flushed in its folder too: a reader sees the old bytes or the new ones, and so does
whoever comes back after the cut.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def flush(path: Path) -> None:
    """Flush what stands in a file, or the names in a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(target: Path, data: bytes, *, draft: Path, mode: int) -> None:
    """Let a file have these bytes; `draft` is a name beside it that nothing has yet.

    OSError where the disk refuses: the target is then as it was, or has the bytes.
    """
    try:
        with draft.open("xb") as file:
            file.write(data)
            file.flush()
            os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
        draft.replace(target)
    except BaseException:  # a draft that nobody will rename is litter, whatever the reason
        with suppress(OSError):
            draft.unlink(missing_ok=True)
        raise
    flush(target.parent)
