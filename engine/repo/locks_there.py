"""Git's locks at a meeting point that is a folder: one that was left blocks everybody who sends.

Such a lock is held for a blink. One that is old was left by a kill or a power cut, and is
put aside, never removed; a young one is left, whoever made it, and told of. Old is by the
clock of the file system that both stand on, for boxes' clocks differ; who is at work there
cannot be seen, for it may be another box or another account.
"""

from __future__ import annotations

import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from engine.repo.accounts import account_name
from engine.repo.durable import make_folders

LOCK = "a lock was left"
OLD = 600.0  # seconds


def age(lock: Path) -> float:
    """How old a lock is, in seconds; 0 where it is gone."""
    try:
        return max(_now_there(lock.parent) - lock.stat().st_mtime, 0.0)
    except FileNotFoundError:
        return 0.0


def _now_there(folder: Path) -> float:
    try:
        with tempfile.TemporaryFile(dir=folder) as fresh:
            return os.fstat(fresh.fileno()).st_mtime
    except OSError:
        return time.time()


def unlock(folder: Path, branch: str) -> bool:
    """Put an old lock of a bare repository aside; whether there was one and it could be."""
    moved = False
    for name in (f"{branch}.lock", "HEAD.lock", "packed-refs.lock"):
        lock, aside = folder / name, folder / "witnessmark" / "aside"
        if age(lock) > OLD:
            with suppress(OSError):  # another account's folder: its words say who takes it away
                make_folders(aside)
                lock.rename(aside / f"{int(time.time())}-{name.replace('/', '-')}")
                moved = True
    return moved


def lock_in_words(lock: Path) -> str:
    """What a lock blocks, whose it is, and what to do."""
    minutes = int(age(lock) // 60)
    try:
        owner = account_name(lock.stat().st_uid)
    except OSError:
        return f"{LOCK} at the meeting point, and is gone again: sync once more"
    return (
        f"{LOCK} at the meeting point, {minutes} min ago by {owner}: {lock}. Somebody may be "
        f"sending just now; sync again. After {OLD / 60:.0f} min it is put aside by itself; where "
        f"that may not be done, {owner} takes it away"
    )
