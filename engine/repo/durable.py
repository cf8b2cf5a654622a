"""On the disk before anybody is told: what is flushed here outlives a power cut.

A file is written beside its target, flushed, and renamed over it, and the name is
flushed in its folder too: a reader sees the old bytes or the new ones, and so does
whoever comes back after the cut.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from engine.repo.sharing import Sharing, settle, sharing_of
from schemas.errors import BookError


def flush(path: Path) -> None:
    """Flush what stands in a file, or the names in a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folders(folder: Path) -> None:
    """Make a folder of a repository, and those above it that are missing; all outlive a cut."""
    missing = [each for each in (folder, *folder.parents) if not each.is_dir()]
    sharing = sharing_of(folder) if missing else Sharing()
    for each in reversed(missing):
        each.mkdir(exist_ok=True)
        settle(each, sharing)
    for each in missing:
        flush(each.parent)


def disk_refused(error: OSError, otherwise: Path, hint: str) -> BookError:
    """The disk's no in words; `otherwise` is where, if the error does not say."""
    return BookError(
        f"the disk refused: {error.strerror or error}",
        where=str(error.filename or otherwise),
        hint=hint,
    )


def put_in_place(target: Path, data: bytes, *, draft: Path, most: int = 0o666) -> None:
    """Let a file have these bytes; `draft` is a name beside it that nothing has yet.

    Its rights are those of its repository, or those that it had, or what the mask leaves,
    and never more than `most` of it. OSError where the disk refuses: the target is then as
    it was, or has the bytes.
    """
    try:
        with draft.open("xb") as file:
            file.write(data)
            file.flush()
            os.fchmod(file.fileno(), _rights(target, os.fstat(file.fileno()).st_mode, most))
            os.fsync(file.fileno())
        draft.replace(target)
    except BaseException:  # a draft that nobody will rename is litter, whatever the reason
        with suppress(OSError):
            draft.unlink(missing_ok=True)
        raise
    flush(target.parent)


def _rights(target: Path, fresh: int, most: int) -> int:
    """The rights of a file that takes the place of another, or is new."""
    with suppress(OSError):
        there = os.lstat(target).st_mode
        if stat.S_ISREG(there) and there & 0o600 == 0o600:
            fresh = there
    return sharing_of(target).rights(stat.S_IFREG | (fresh & most))
