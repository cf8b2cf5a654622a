"""Git's own index, held in step with the head: else a commit by hand takes a save back.

Invariant: it is changed only under git's own lock on it, `index.lock`, which is taken
before the branch moves and let go when the index agrees: no git that somebody runs by
hand can make a commit in between. The lock is a second name of a file of ours, so one
that a killed save left is known as ours and stands in nobody's way. An entry that is
none of those that a save found there was staged by hand, and stays.
"""

from __future__ import annotations

import os
import secrets
import shutil
import time
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import NamedTuple

from engine.repo.durable import flush
from engine.repo.git import Git
from engine.repo.private import is_plain, put_aside
from engine.repo.sharing import open_file
from schemas.errors import BookError, WitnessmarkError

_MANY = 100  # paths: so many are not named one by one
UNMERGED = ""  # what stands for an entry in the middle of somebody's merge

Olds = Mapping[str, Collection[str | None]]  # path -> blobs that saves found or left there
Blobs = Mapping[str, str | None]  # what entries shall be; None: none


class Brought(NamedTuple):
    """What is not in step: entries that are behind still, and those staged by hand."""

    left: tuple[str, ...] = ()
    staged: tuple[str, ...] = ()


class _Prepared(NamedTuple):
    """An index in which `blobs` are set, made of the one with this state."""

    blobs: Blobs
    state: tuple[int, ...]
    draft: Path


class GitIndex:
    """The index of one repository; to be changed while holding the save lock only."""

    def __init__(self, git: Git) -> None:
        self._git = git
        self._file = git.private / "index"
        self._lock = git.private / "index.lock"
        self._ours = git.private / "witnessmark" / "index-lock"
        self._held = False
        self._at_work: Thread | None = None  # on the next index
        self._prepared: _Prepared | None = None
        self._draft = ""  # the name of the last one that was begun

    # git's own lock

    def take(self, patience: float = 0.0) -> bool:
        """Hold the lock that every git takes to write its index; False where another has it."""
        end = time.monotonic() + patience
        while not self._held:
            try:
                self._held = self._take_once()
            except OSError:  # a folder that cannot be written: the index cannot be, either
                return False
            if self._held:
                break
            if time.monotonic() >= end:
                return False
            time.sleep(0.02)
        return True

    def _take_once(self) -> bool:
        if self.is_ours():
            return True
        if not is_plain(self._ours.parent, self._ours.name):
            put_aside(self._ours.parent, self._ours.name)
        self._ours.unlink(missing_ok=True)
        os.close(open_file(self._ours, os.O_WRONLY | os.O_EXCL))
        try:
            os.link(self._ours, self._lock)
        except FileExistsError:
            return False
        except OSError:  # no second names on this file system
            with suppress(FileExistsError):
                os.close(open_file(self._lock, os.O_WRONLY | os.O_EXCL))
                return True
            return False
        return True

    def is_ours(self) -> bool:
        """Whether the lock that stands there is of a save, of this one or of a killed one."""
        try:
            return os.path.samestat(self._lock.lstat(), self._ours.lstat())
        except OSError:
            return False

    def let_go(self) -> None:
        """Give the lock back, also one that a killed save left.

        One that the disk does not let go is known as ours later, and no save is undone by it.
        """
        self._forget_prepared()
        if self._held or self.is_ours():
            self._held = False
            with suppress(OSError):
                self._lock.unlink(missing_ok=True)

    # entries

    def entries(self, paths: Sequence[str] = ()) -> dict[str, str]:
        """Blob ids by path: of all files, or of those named; UNMERGED in somebody's merge."""
        named = paths if len(paths) < _MANY else ()
        found: dict[str, str] = {}
        for line in self._git.run("ls-files", "-s", "-z", "--", *named).split(b"\0"):
            if line:
                head, _, path = line.partition(b"\t")
                _, blob, stage = head.split()
                name = path.decode("utf-8", "surrogateescape")
                found[name] = blob.decode() if stage == b"0" else UNMERGED
        return found

    def bring(self, olds: Olds, now: Mapping[str, str]) -> Brought:
        """Bring entries that saves left behind up to `now`.

        BookError or OSError where the index cannot be read or written.
        """
        if not olds:
            return Brought()
        wanted = {path: now.get(path) for path in olds}
        if self._prepared_for(wanted):
            self._write(wanted)
            return Brought()
        if not self._file.exists():  # taken away by hand: a commit would take out every file
            left = [] if self._write_under_lock(dict(now)) else list(olds)
            return Brought(tuple(left))
        entries = self.entries(list(olds))
        other = [path for path in olds if entries.get(path) != now.get(path)]
        stale = [path for path in other if entries.get(path) in olds[path]]
        staged = tuple(path for path in other if entries.get(path) not in olds[path])
        if stale and not self._write_under_lock({p: now.get(p) for p in stale}):
            return Brought(tuple(stale), staged)
        return Brought((), staged)

    def _write_under_lock(self, blobs: Blobs) -> bool:
        """False where somebody else has git's lock."""
        if not self.take():
            return False
        self._write(blobs)
        return True

    # the next index, made while the branch is moved

    def prepare(self, before: Blobs, now: Blobs) -> None:
        """Begin to make the next index, if the entries are as `before`, for a commit with `now`.

        Without git's lock nothing is begun: the index could change meanwhile.
        """
        self._forget_prepared()
        if self._held:
            draft = self._new_draft()  # named here: `forget_drafts` must know it from now on
            self._at_work = self._git.in_thread(lambda: self._prepare(before, now, draft))

    def _prepare(self, before: Blobs, now: Blobs, draft: Path) -> None:
        with suppress(OSError, WitnessmarkError):  # then it is made when it is needed
            state, entries = self._state(), self.entries(list(before))
            if all(entries.get(path) == blob for path, blob in before.items()):
                self._prepared = _Prepared(now, state, self._made(now, draft))

    def _prepared_for(self, blobs: Blobs) -> bool:
        """Whether the index that was prepared sets all that is wanted, and nothing else; what
        was prepared for something else is dropped."""
        if self._at_work is not None:
            self._at_work.join()
            self._at_work = None
        ready = self._prepared
        if ready is None or (ready.blobs == blobs and ready.state == self._state()):
            return ready is not None
        ready.draft.unlink(missing_ok=True)
        self._prepared = None
        return False

    def _forget_prepared(self) -> None:
        with suppress(OSError):
            self._prepared_for({})

    def forget_drafts(self) -> None:
        """Take away what killed saves left of an index, and not what is being prepared."""
        mine = self._draft if self._at_work or self._prepared else "none"
        for left in self._ours.parent.glob("tree-*"):
            if not left.name.startswith(mine):
                with suppress(OSError):  # a folder of that name is none of them
                    left.unlink(missing_ok=True)

    def _state(self) -> tuple[int, ...]:
        """What tells one index from the next: it is never written in place."""
        there = self._file.stat()
        return there.st_ino, there.st_size, there.st_mtime_ns

    def _write(self, blobs: Blobs) -> None:
        """Set or take out paths: in a copy, which takes the index's place when it is flushed."""
        ready, self._prepared = self._prepared if self._prepared_for(blobs) else None, None
        draft = ready.draft if ready else self._made(blobs, self._new_draft())
        try:
            draft.replace(self._file)
        finally:
            draft.unlink(missing_ok=True)
        flush(self._file.parent)

    def _new_draft(self) -> Path:
        self._draft = f"tree-{secrets.token_hex(4)}"
        return self._ours.with_name(self._draft)

    def _made(self, blobs: Blobs, draft: Path) -> Path:
        """A copy of the index with paths set or taken out, on the disk.

        BookError where the copy was taken away meanwhile: git then began an empty one.
        """
        try:
            if self._file.exists():
                shutil.copyfile(self._file, draft)
            before = _entries_of(draft)
            self._run(draft, blobs)
            if abs(_entries_of(draft) - before) > len(blobs):
                raise BookError("a copy of git's index was lost", where=str(draft))
            flush(draft.parent)  # git put it in its place by a rename, which must come first
        except BaseException:
            draft.unlink(missing_ok=True)
            raise
        return draft

    def _run(self, draft: Path, blobs: Blobs) -> None:
        known = next((oid for oid in blobs.values() if oid), "") or self._git.head()
        zero = "0" * (len(known) or 40)
        gone = [f"0 {zero}\t{path}" for path, oid in blobs.items() if not oid]
        there = [f"100644 {oid}\t{path}" for path, oid in blobs.items() if oid]
        data = ("\0".join([*gone, *there]) + "\0").encode("utf-8", "surrogateescape")
        words = ("update-index", "-z", "--add", "--index-info")
        self._git.run(*words, data=data, environment={"GIT_INDEX_FILE": str(draft)})


def _entries_of(index: Path) -> int:
    """How many entries an index says that it has (git's index format: four bytes after
    signature and version); none where there is no file."""
    try:
        with index.open("rb") as file:
            return int.from_bytes(file.read(12)[8:12], "big")
    except FileNotFoundError:
        return 0
