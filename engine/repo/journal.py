"""An append-only file of small JSON lines, each on the disk before `append` returns.

Several processes may write one journal: each append takes the file's lock,
reads what others added, and writes one whole line. A line that a crash cut
short is skipped when reading and struck out before the next append, so that it
neither swallows its successor nor comes to life later. A line that makes no
sense is passed over: one bad byte never keeps a book from opening. The name of a new
journal is on the disk before its first line: a line that is there was accepted.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from engine.repo.durable import flush
from engine.repo.rights import no_right_to_write
from engine.repo.sharing import make_folders, open_file
from schemas.errors import BookError

JournalLine = dict[str, Any]
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
        self._read = read
        self._entries: list[JournalLine] = []
        self._read_to = 0
        self._identity = (0, 0)

    def entries(self) -> list[JournalLine]:
        """All whole entries, oldest first; others' included."""
        try:
            with self.path.open("rb") as file:
                self._take_in(file.fileno())
        except FileNotFoundError:
            self._entries, self._read_to = [], 0
        return self._entries

    def append(self, make: Callable[[list[JournalLine]], JournalLine | None]) -> list[JournalLine]:
        """Write the entry that `make` builds from all earlier ones; None writes nothing.

        All entries up to the one that was written, or none.
        """
        try:
            return self._append(make)
        except PermissionError as error:
            private = self.path.parents[3]  # person, pencil, witnessmark, .git
            kept = "This was not accepted; earlier pencil is kept."
            raise no_right_to_write(self.path, private, kept=kept) from error
        except OSError as error:
            raise BookError(
                f"the disk refused: {error.strerror or error}",
                where=str(self.path),
                hint="This was not accepted; earlier pencil is kept. Look at space and rights.",
            ) from error

    def _append(self, make: Callable[[list[JournalLine]], JournalLine | None]) -> list[JournalLine]:
        make_folders(self.path.parent)
        handle = open_file(self.path, os.O_RDWR | os.O_APPEND)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            self._take_in(handle)
            entry = make(self._entries)
            if entry is None:
                return []
            line = json.dumps(entry, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
            if os.fstat(handle).st_size == 0:  # its name may not be on the disk yet, either
                for folder in list(self.path.parents)[:4]:  # person, pencil, witnessmark, .git
                    flush(folder)
            start = b"" if self._ends_whole(handle) else _STRUCK_OUT
            _write_whole(handle, start + line)
            self._take_in(handle)
            return list(self._entries)
        finally:
            os.close(handle)

    @staticmethod
    def _ends_whole(handle: int) -> bool:
        size = os.fstat(handle).st_size
        return size == 0 or os.pread(handle, 1, size - 1) == b"\n"

    def _take_in(self, handle: int) -> None:
        """Read whole lines past what is known; all of it if the file was replaced."""
        status = os.fstat(handle)
        identity = (status.st_dev, status.st_ino)
        if identity != self._identity or status.st_size < self._read_to:
            self._entries, self._read_to, self._identity = [], 0, identity
        while self._read_to < status.st_size:
            data = os.pread(handle, status.st_size - self._read_to, self._read_to)
            whole, newline, _ = data.rpartition(b"\n")
            if not newline:
                return
            for line in whole.split(b"\n"):
                entry = _entry(line)
                entry = None if entry is None else self._read(entry)
                if entry is not None:
                    self._entries.append(entry)
            self._read_to += len(whole) + 1


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


def _entry(line: bytes) -> JournalLine | None:
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None
