"""Locks that an ended git left in a repository: when they are stale, and what stands for how long.

Git takes a lock by making a file and lets it go by taking the file away; a killed one
never does. A lock is put aside, never deleted, by whoever holds the save lock, where it
is old and no git can be seen that may have it. Of a git whose folder cannot be seen
(another account's) a lock of a branch is believed for ten minutes: git itself has one
for milliseconds. The index may be held for hours, by a commit whose message is being
typed; but that lock holds up no save.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from engine.repo.accounts import account_name
from engine.repo.durable import make_folders

STALE = 10.0  # seconds
HUNG = 600.0  # seconds: a branch is locked so long by nothing that is still at work
INDEX = "index.lock"
NO_BAR = (INDEX, "packed-refs.lock")  # a save goes on beside them
_READERS = {"cat-file", "log", "show", "diff", "blame", "grep", "rev-list", "ls-tree", "daemon"}


class StandingLock(NamedTuple):
    """A lock that stays where it is, and why."""

    name: str
    path: Path
    age: float  # seconds; 0 where its stamp lies ahead of the clock
    uid: int
    process: int = 0  # of the git that has it, as far as that can be seen
    refused: str = ""  # why it could not be put aside

    @property
    def words(self) -> str:
        """What stands there, since when, and whose it is."""
        by = f"process {self.process} of " if self.process else ""
        return f".git/{self.name}, {self.age:.0f} s old, made by {by}{account_name(self.uid)}"

    @property
    def hint(self) -> str:
        """What to do about it."""
        if self.refused:
            whose = account_name(self.uid)
            return f"It could not be put aside ({self.refused}): {whose} must delete it."
        if self.process:
            return f"Wait for that git, or end it. After {HUNG / 60:.0f} minutes it is put aside."
        wait = max(STALE - self.age, 1)
        return f"Try again in {wait:.0f} seconds: one that an ended git left is then put aside."


def look(private: Path, names: Sequence[str]) -> tuple[list[str], list[StandingLock]]:
    """Put stale locks of a repository aside; names of those, and the locks that stand.

    `private` is the program's own folder in it. Only while holding the save lock.
    """
    moved, standing = [], []
    for name in names:
        path = private.parent / name
        try:
            status = path.lstat()
        except (FileNotFoundError, NotADirectoryError):
            continue
        age = time.time() - status.st_mtime
        if age < -STALE:
            age = STALE + 1  # the clock was put back: nobody can tell how old it is
        lock = StandingLock(name, path, max(age, 0), status.st_uid)
        if age > STALE:
            lock = lock._replace(process=_who_may_have(private.parent, name, lock))
        if age <= STALE or lock.process:
            standing.append(lock)
            continue
        refused = _put_aside(private, path, name)
        if refused:
            standing.append(lock._replace(refused=refused))
        else:
            moved.append(name)
    return moved, standing


def _put_aside(private: Path, path: Path, name: str) -> str:
    """Move a lock out of the way; why not, where that is refused."""
    aside = private / "aside"
    try:
        make_folders(aside)
        path.rename(aside / f"{int(time.time())}-{name.replace('/', '-')}")
    except FileNotFoundError:
        return ""  # let go at this very moment
    except OSError as error:
        return error.strerror or str(error)
    return ""


def _who_may_have(repository: Path, name: str, lock: StandingLock) -> int:
    """The process of a git that may have a lock; 0 where none can."""
    hung = lock.age > HUNG
    for process, there in _gits_of(lock.uid, repository.parent.resolve()):
        seen_there = there and name == INDEX
        if seen_there or not hung:
            return process
    return 0


def _gits_of(uid: int, folder: Path) -> Iterator[tuple[int, bool]]:
    """Gits of an account (root's are everybody's) that are at work in a folder, or may be.

    With whether they were seen there; where one works is told to its own account only.
    """
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if process.stat().st_uid not in (uid, 0):
                continue
            words = [os.fsdecode(w) for w in (process / "cmdline").read_bytes().split(b"\0")]
            if Path(words[0]).name != "git" or _verb(words[1:]) in _READERS:
                continue
            here = (process / "cwd").readlink()
        except PermissionError:
            yield int(process.name), False
        except OSError:
            continue
        else:
            if here == folder or folder in here.parents:
                yield int(process.name), True


def _verb(words: Sequence[str]) -> str:
    """What a git was asked to do."""
    rest = iter(words)
    for word in rest:
        if word in ("-c", "-C"):
            next(rest, "")
        elif not word.startswith("-"):
            return word
    return ""
