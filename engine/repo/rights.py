"""What the machine's rights forbid, in words: which account, which path, whose it is, what to do.

A book that this account may not read is there all the same: nobody is told to begin a
new one in its place. What it may not write it is told before anything is lost.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path

from engine.repo.accounts import account_name, current_login, group_name
from engine.repo.sharing import sharing_of
from schemas.errors import BookError, NoRight

_ID = re.compile(r"[0-9a-f]{40}|[0-9a-f]{64}")
DENIED = (
    "Permission denied",
    "insufficient permission",
    "unable to append to",
    "unable to create temporary object directory",
)


def is_denied(words: str) -> bool:
    """Whether what git said is that the machine's rights forbid it."""
    return any(sign in words for sign in DENIED)


def no_right_to_write(path: Path, private: Path, *, kept: str = "Nothing was lost.") -> NoRight:
    """The refusal where an account may not write a path of a book, or of a meeting point."""
    folder = private.parent if private.name == ".git" else private
    there = _nearest(path)
    owner = account_name(there.stat().st_uid)
    what = "the book" if private.name == ".git" else "the meeting point"
    share = f"`witnessmark share {folder} --group GROUP`"
    if sharing_of(private):
        why = f"{what} is shared, but not this: {_whose(there)}"
        hint = f"Belong to its group (and log in again), or let {owner} run {share} anew."
    else:
        why = f"{what} is not shared: {_whose(there)}"
        hint = f"Its owner {owner} can run {share}, once; you must belong to that group."
    return NoRight(
        f"the account {current_login()} may not write here, and {why}",
        where=str(path),
        hint=f"{kept} {hint}",
    )


def stop_if_anothers(private: Path, *, kept: str = "Nothing was lost.") -> None:
    """NoRight in another account's book that is not shared, though its rights may let one in:
    what one made there would lock its owner out.
    """
    owner = private.stat().st_uid
    if os.geteuid() not in (owner, 0) and not sharing_of(private):
        raise no_right_to_write(private, private, kept=kept)


def stop_if_hidden(folder: Path) -> None:
    """BookError where a folder, or what makes a repository of it, may not be read."""
    for above in reversed(folder.absolute().parents):
        if not os.access(above, os.X_OK):
            if above.is_dir():
                raise unreadable(above, folder)
            return
    for path in _essential(folder):
        try:
            status = path.stat()
        except PermissionError:
            raise unreadable(path.parent, folder) from None
        except OSError:  # it is not there, or its links go round in a circle
            continue
        wanted = os.R_OK | os.X_OK if stat.S_ISDIR(status.st_mode) else os.R_OK
        if not os.access(path, wanted):
            raise unreadable(path, folder)


def _essential(folder: Path) -> Iterator[Path]:
    """What must be readable before anything can be said of a book, outermost first."""
    yield folder
    private = folder / ".git"
    if not os.path.lexists(private):
        private = folder  # it is bare, or no repository
    yield from (private, private / "HEAD", private / "config", private / "packed-refs")
    yield from (private / "objects", private / "objects/pack", private / "refs")
    yield private / "refs/heads"
    yield from sorted((private / "refs/heads").glob("*"))


def stop_if_object_hidden(folder: Path, name: str) -> None:
    """BookError where an object cannot be had because it may not be read."""
    stop_if_hidden(folder)
    private = folder / ".git"
    places = [*sorted((private / "objects/pack").glob("*.pack"))]
    if _ID.fullmatch(name):
        loose = private / "objects" / name[:2]
        places += [loose, loose / name[2:]]
    for path in places:
        try:
            hidden = path.exists() and not os.access(path, os.R_OK)
        except OSError:
            hidden = True
        if hidden:
            raise unreadable(path if os.access(path.parent, os.X_OK) else path.parent, folder)


def unreadable(path: Path, folder: Path) -> BookError:
    """The error where an account may not read a path that a book needs."""
    owner = account_name(path.stat().st_uid)
    return BookError(
        f"the account {current_login()} may not read this: {_whose(path)}",
        where=str(path),
        hint=f"The book is there, it is only closed to you. Let {owner} run `witnessmark share "
        f"{folder} --group GROUP` with a group of yours, or use your own account.",
    )


def _nearest(path: Path) -> Path:
    """A path, or what is above it where it is not there or cannot be looked at."""
    for each in (path, *path.parents):
        try:
            each.stat()
        except OSError:
            continue
        return each
    return Path("/")


def _whose(path: Path) -> str:
    status = path.stat()
    rights = stat.filemode(status.st_mode)
    owner, group = account_name(status.st_uid), group_name(status.st_gid)
    return f"{path.name or path} belongs to {owner}, group {group}, rights {rights}"


def open_to_all(*paths: Path) -> list[Path]:
    """Which of some folders every account of the machine may write to, with what lies in them."""
    found = []
    for path in paths:
        try:
            mode = path.stat().st_mode
        except OSError:
            continue
        if mode & stat.S_IWOTH and not mode & stat.S_ISVTX:
            found.append(path)
    return found
