"""Files of the work tree, read and written so that nobody is led elsewhere.

A path is relative to the book, with forward slashes. No part of it may be a
symbolic link, and only regular files are read. Writing replaces a file whole:
a reader sees the old bytes or the new ones, and a power cut leaves one of them.
"""

from __future__ import annotations

import errno
import glob
import os
import secrets
import stat
from pathlib import Path

from engine.repo.durable import flush, make_folders, put_in_place
from schemas.errors import UsageError

MOST_LINKED_BYTES = 256_000_000


def check_path(path: str) -> str:
    """The path, if it stays inside a book. UsageError where it does not."""
    parts = path.split("/")
    bad = any(part in ("", ".", "..") or part.lower() == ".git" for part in parts)
    if bad or path.startswith("/") or "\\" in path or "\0" in path or ":" in parts[0]:
        raise UsageError(
            f"the path {path!r} leads outside the book",
            hint="Write it relative to the book, as programs/seat.nc.",
        )
    return path


def read_file(folder: Path, path: str, most: int = MOST_LINKED_BYTES) -> bytes | None:
    """Bytes of a regular file of the book, or None where there is none.

    UsageError where the path leads outside or through a link, or the file is
    larger than `most` bytes.
    """
    handle = _open_below(folder, check_path(path))
    if handle is None:
        return None
    status = os.fstat(handle)
    if not stat.S_ISREG(status.st_mode):
        os.close(handle)
        raise UsageError(f"{path} is no regular file", hint="Link to an ordinary file.")
    with os.fdopen(handle, "rb") as file:
        if status.st_size > most:
            raise UsageError(f"{path} has {status.st_size:,} bytes", hint=f"At most {most:,}.")
        return file.read()


def _open_below(folder: Path, path: str) -> int | None:
    """Open a path step by step, never through a link."""
    *folders, name = path.split("/")
    here = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        for part in folders:
            below = os.open(part, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=here)
            os.close(here)
            here = below
        return os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=here)
    except FileNotFoundError:
        return None
    except NotADirectoryError:
        if (folder / path).parent.is_symlink() or any(
            (folder / "/".join(folders[: n + 1])).is_symlink() for n in range(len(folders))
        ):
            raise _through_link(path) from None
        return None
    except OSError as error:
        if (folder / path).is_symlink():
            raise _through_link(path) from error
        kind = NotRead if error.errno == errno.EIO else UsageError
        raise kind(
            f"{path} cannot be read: {error.strerror}", hint="Check its owner and rights."
        ) from error
    finally:
        os.close(here)


class NotRead(UsageError):
    """The disk does not give a file that is there: nobody knows what it holds."""


def _through_link(path: str) -> UsageError:
    return UsageError(
        f"{path} goes through a symbolic link", hint="Put the file itself into the book."
    )


def write_file(folder: Path, path: str, data: bytes) -> None:
    """Replace a file of the book, durably, with the rights that the book gives."""
    target = folder / check_path(path)
    for above in reversed(target.relative_to(folder).parents):
        if (folder / above).is_symlink():
            raise _through_link(path)
    try:
        make_folders(target.parent)
    except (FileExistsError, NotADirectoryError) as error:
        raise UsageError(
            f"{path} cannot be written: something else lies where its folder belongs",
            hint="Move it away.",
        ) from error
    replace(target, data)


def replace(target: Path, data: bytes) -> None:
    """Write bytes to a new file beside the target, flush it, and put it in its place."""
    draft = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    put_in_place(target, data, draft=draft)


def forget_drafts(folder: Path, path: str) -> None:
    """Take away what a killed `write_file` left beside a file. Needs the save lock."""
    target = folder / check_path(path)
    for left in target.parent.glob(f".{glob.escape(target.name)}.????????"):
        left.unlink(missing_ok=True)


def remove_file(folder: Path, path: str) -> None:
    """Take a file out of the work tree; nothing happens where there is none."""
    target = folder / check_path(path)
    for above in reversed(target.relative_to(folder).parents):
        if (folder / above).is_symlink():
            raise _through_link(path)
    target.unlink(missing_ok=True)
    if target.parent.is_dir():
        flush(target.parent)
