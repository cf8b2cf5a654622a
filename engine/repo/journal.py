"""An append-only file of small JSON lines, each on the disk before `append` returns.

Several processes may write one journal: each append takes the file's lock,
reads what others added, and writes one whole line. A line that a crash cut
short is skipped when reading and struck out before the next append, so that it
neither swallows its successor nor comes to life later. A line that makes no
sense is passed over: one bad byte never keeps a book from opening. The name of a new
journal is on the disk before its first line: a line that is there was accepted. The
next append keeps lines that make no sense in a file of their own, and so it does with
whatever lies in the journal's place and is none: nothing is deleted, and the person goes on.
"""

from __future__ import annotations

import errno
import fcntl
import json
import os
import secrets
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from engine.repo import private
from engine.repo.durable import flush, put_in_place
from engine.repo.private import OddFile, open_private, read_note
from engine.repo.rights import no_right_to_write, stop_if_anothers
from schemas.errors import BookError

JournalLine = dict[str, Any]
MOST_LINE = 1_000_000  # bytes of one entry: a whole record's values are a tenth of it
_TRIES = 50
_STRUCK_OUT = b"\0\n"  # no JSON with this at its end is valid, however much of it was written


class Journal:
    """One journal by its path; the file is made at the first append.

    `read` makes of a line's entry the one that counts, None for one that makes no sense.
    """

    def __init__(
        self,
        path: Path,
        read: Callable[[JournalLine], JournalLine | None] = lambda entry: entry or None,
    ) -> None:
        self.path = path
        self._root = path.parents[2]  # the private folder: pencil, person, file stand below it
        self._name = path.relative_to(self._root).as_posix()
        self._read = read
        self.trouble = ""  # why nothing of it can be read, in words
        self.aside: list[str] = []  # where the last append kept what makes no sense
        self._forget((0, 0))

    def _forget(self, identity: tuple[int, int]) -> None:
        self._entries: list[JournalLine] = []
        self.passed_over = 0  # whole lines that make no sense
        self._read_to = 0
        self._identity = identity

    def entries(self) -> list[JournalLine]:
        """All whole entries, oldest first; others' included. Where none can be read, `trouble`."""
        self.trouble = ""
        try:
            handle = open_private(self._root, self._name, os.O_RDONLY)
        except FileNotFoundError:
            self._forget((0, 0))
        except OSError as error:
            self._forget((0, 0))
            self.trouble = error.strerror or str(error)
        else:
            try:
                self._take_in(handle)
            except OSError as error:
                self.trouble = error.strerror or str(error)
            finally:
                os.close(handle)
        return self._entries

    def append(self, make: Callable[[list[JournalLine]], JournalLine | None]) -> list[JournalLine]:
        """Write the entry that `make` builds from all earlier ones; None writes nothing.

        All entries up to the one that was written, or none.
        """
        kept = "This was not accepted; earlier pencil is kept."
        try:
            stop_if_anothers(self._root.parent, kept=kept)
            return self._append(make)
        except PermissionError as error:
            raise no_right_to_write(self.path, self._root.parent, kept=kept) from error
        except OSError as error:
            raise BookError(
                f"the disk refused: {error.strerror or error}",
                where=str(self.path),
                hint="This was not accepted; earlier pencil is kept. Look at space and rights.",
            ) from error

    def _append(self, make: Callable[[list[JournalLine]], JournalLine | None]) -> list[JournalLine]:
        self.aside = []
        handle = self._locked()
        try:
            self._take_in(handle)
            if self.passed_over:
                handle = self._renewed(handle)
            entry = make(self._entries)
            if entry is None:
                return []
            line = json.dumps(entry, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
            size = os.fstat(handle).st_size
            if size == 0:  # its name may not be on the disk yet, either
                for folder in list(self.path.parents)[:4]:  # person, pencil, witnessmark, .git
                    flush(folder)
            start = b"" if self._ends_whole(handle) else _STRUCK_OUT
            _write_whole(handle, start + line)
            # It is accepted now: reading it back might fail, and make a no of it.
            self._entries += filter(None, [self._entry(line)])
            self._read_to = size + len(start + line)
            return list(self._entries)
        finally:
            os.close(handle)

    def _locked(self) -> int:
        """The journal, open and locked; what lies in its place and is none is taken aside."""
        for _ in range(_TRIES):
            try:
                flags = os.O_RDWR | os.O_APPEND
                handle = open_private(self._root, self._name, flags, make=True)
                self._stop_if_huge(handle)
            except OddFile as error:
                if "/" not in error.odd:  # everybody's: not this person's to move
                    raise
                self.aside.append(private.put_aside(self._root, error.odd))
                continue
            fcntl.flock(handle, fcntl.LOCK_EX)
            with suppress(FileNotFoundError):
                there = self.path.lstat()
                if (there.st_dev, there.st_ino) == _identity_of(handle):
                    return handle
            os.close(handle)  # another process renewed it meanwhile
        raise OSError(errno.EBUSY, "something else puts another file there again and again")

    def _stop_if_huge(self, handle: int) -> None:
        size = os.fstat(handle).st_size
        if size > private.MOST_BYTES:
            os.close(handle)
            raise OddFile(f"it has {size:,} bytes", self._root, self._name)

    def _renewed(self, handle: int) -> int:
        """Write the journal anew without the lines that make no sense, which are kept aside."""
        data = os.pread(handle, os.fstat(handle).st_size, 0)
        good: list[bytes] = []
        bad: list[bytes] = []
        for line in data.split(b"\n"):
            if line and not line.endswith(b"\0"):
                (bad if self._entry(line) is None else good).append(line)
        self.aside.append(private.keep_aside(self._root, self._name, b"\n".join(bad) + b"\n"))
        draft = self.path.with_name(f".{self.path.name}.{secrets.token_hex(4)}")
        put_in_place(self.path, b"".join(line + b"\n" for line in good), draft=draft)
        renewed = self._locked()
        os.close(handle)
        self._take_in(renewed)
        return renewed

    @staticmethod
    def _ends_whole(handle: int) -> bool:
        size = os.fstat(handle).st_size
        return size == 0 or os.pread(handle, 1, size - 1) == b"\n"

    def _take_in(self, handle: int) -> None:
        """Read whole lines past what is known; all of it if the file was replaced.

        OddFile where it is larger than any journal.
        """
        size, identity = os.fstat(handle).st_size, _identity_of(handle)
        if size > private.MOST_BYTES:
            raise OddFile(f"it has {size:,} bytes", self._root, self._name)
        if identity != self._identity or size < self._read_to:
            self._forget(identity)
        while self._read_to < size:
            data = os.pread(handle, size - self._read_to, self._read_to)
            whole, newline, _ = data.rpartition(b"\n")
            if not newline:
                return
            for line in whole.split(b"\n"):
                entry = self._entry(line)
                if entry is not None:
                    self._entries.append(entry)
                elif line and not line.endswith(b"\0"):
                    self.passed_over += 1
            self._read_to += len(whole) + 1

    def _entry(self, line: bytes) -> JournalLine | None:
        if len(line) > MOST_LINE:
            return None
        try:
            entry = read_note(line)
        except ValueError:
            return None
        return self._read(entry) if isinstance(entry, dict) else None


def _identity_of(handle: int) -> tuple[int, int]:
    status = os.fstat(handle)
    return status.st_dev, status.st_ino


def _write_whole(handle: int, data: bytes) -> None:
    """All of it, on the disk; nothing of it where the disk refuses."""
    size = os.fstat(handle).st_size
    try:
        while data:
            data = data[os.write(handle, data) :]
        os.fdatasync(handle)
    except OSError:
        os.ftruncate(handle, size)
        raise
