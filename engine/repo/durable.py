"""On the disk before anybody is told: what is flushed here outlives a power cut.

A file is written beside its target, flushed, and renamed over it, and the name is
flushed in its folder too: a reader sees the old bytes or the new ones, and so does
whoever comes back after the cut.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import NamedTuple, TypeVar

from engine.repo.sharing import Sharing, settle, sharing_of
from schemas.errors import BookError

T = TypeVar("T")


def flush(path: Path) -> None:
    """Flush what stands in a file, or the names in a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folders(*folders: Path) -> None:
    """Make folders of a repository, and those above that are missing; all outlive a cut."""
    missing = {
        each: None
        for folder in folders
        for each in reversed((folder, *folder.parents))
        if not each.is_dir()
    }
    sharing = sharing_of(folders[0]) if missing else Sharing()
    for each in missing:
        each.mkdir(exist_ok=True)
        settle(each, sharing)
    for above in dict.fromkeys(each.parent for each in reversed(missing)):
        flush(above)


def disk_refused(error: OSError, otherwise: Path, hint: str) -> BookError:
    """The disk's no in words; `otherwise` is where, if the error does not say."""
    return BookError(
        f"the disk refused: {error.strerror or error}",
        where=str(error.filename or otherwise),
        hint=hint,
    )


class Put(NamedTuple):
    """A file that shall have these bytes; `draft` is a name beside it that nothing has yet.

    Its rights are those of its repository, or those that it had, or what the mask leaves,
    and never more than `most` of it.
    """

    target: Path
    data: bytes
    draft: Path
    most: int = 0o666


def put_in_place(target: Path, data: bytes, *, draft: Path, most: int = 0o666) -> None:
    """Let a file have these bytes (see `Put`). OSError where the disk refuses: the target is
    then as it was, or has the bytes."""
    put_all_in_place([Put(target, data, draft, most)])


def put_all_in_place(puts: Sequence[Put]) -> None:
    """The same for several files, in their order: the bytes of all are on the disk before the
    first gets its name, and all names when this returns.

    They are flushed at once, which costs a disk little more than one of them.
    """
    handles: list[int] = []
    try:
        for put in puts:
            handles.append(_written(put))
        at_once(os.fsync, handles)
        for put in puts:
            put.draft.replace(put.target)
    except BaseException:  # a draft that nobody will rename is litter, whatever the reason
        for put in puts[: len(handles) + 1]:
            with suppress(OSError):
                put.draft.unlink(missing_ok=True)
        raise
    finally:
        for handle in handles:
            os.close(handle)
    at_once(flush, list(dict.fromkeys(put.target.parent for put in puts)))


def _written(put: Put) -> int:
    """The draft with its bytes and rights, not flushed; its handle."""
    handle = os.open(put.draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
    try:
        left = memoryview(put.data)
        while left:
            left = left[os.write(handle, left) :]
        os.fchmod(handle, _rights(put.target, os.fstat(handle).st_mode, put.most))
    except BaseException:
        os.close(handle)
        raise
    return handle


def at_once(act: Callable[[T], object], things: Sequence[T]) -> None:
    """Do something with each of a few things at the same time; what went wrong first is raised."""
    wrong: list[BaseException] = []

    def one(thing: T) -> None:
        try:
            act(thing)
        except BaseException as error:  # it is raised in the caller's thread
            wrong.append(error)

    others = [Thread(target=one, args=(thing,)) for thing in things[1:]]
    for thread in others:
        thread.start()
    for thing in things[:1]:
        one(thing)
    for thread in others:
        thread.join()
    if wrong:
        raise wrong[0]


def _rights(target: Path, fresh: int, most: int) -> int:
    """The rights of a file that takes the place of another, or is new."""
    with suppress(OSError):
        there = os.lstat(target).st_mode
        if stat.S_ISREG(there) and there & 0o600 == 0o600:
            fresh = there
    return sharing_of(target).rights(stat.S_IFREG | (fresh & most))
