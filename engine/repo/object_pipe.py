"""Objects from one `git cat-file --batch`: asked for by name, taken in the same order.

What is taken is held against its id: an object that is not what its name says is told, and
never handed on. What a broken answer left in the pipe never answers a later question: the
process is ended then, and a later question starts another. For one thread at a time.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Sequence
from pathlib import Path

from engine.repo.object_id import BadObject, is_broken_file, is_sound, loose_file
from engine.repo.process import Running, Starter, end, widen
from engine.repo.rights import stop_if_object_hidden
from schemas.errors import BookError

_ID = re.compile(r"[0-9a-f]{40}|[0-9a-f]{64}")


class ObjectPipe:
    """A reader of objects, which may be asked for many before the first is taken."""

    def __init__(self, git: Starter, where: str) -> None:
        self._git = git
        self._where = where
        self._at = Path(where) / ".git"
        self._running: Running | None = None
        self._due: deque[str] = deque()  # names that were asked for and not taken yet

    @property
    def due(self) -> int:
        """How many answers are to be taken; none where the process was ended."""
        return len(self._due)

    def ask(self, names: Sequence[str]) -> None:
        """Ask for objects; each must be taken, in this order. BookError where git is gone.

        ValueError for a name with a line end in it: it would be two questions, and every
        later answer that of another one.
        """
        if not names:
            return
        for name in names:
            if "\n" in name or "\0" in name:
                raise ValueError(f"{name!r} names no object")
        if not self._due and self._running is not None and self._running.proc.poll() is not None:
            self.close()
        try:
            if self._running is None:
                self._running = self._git.start(("cat-file", "--batch"))
                widen(self._running.proc.stdout)
            stdin = self._running.proc.stdin
            stdin.write(("\n".join(names) + "\n").encode("utf-8", "surrogateescape"))
            stdin.flush()
        except BaseException as error:  # half a question may be in the pipe, whatever broke it
            self._give_up(names[0], error)
            raise
        self._due.extend(names)

    def take(self) -> tuple[str, bytes]:
        """(id, bytes) of the next object that was asked for; ("", b"") where there is none.

        BadObject where it is damaged, BookError where git does not answer.
        """
        name = self._due.popleft()
        try:
            if self._running is None:
                raise EOFError
            stdout = self._running.proc.stdout
            head = stdout.readline().split()
            if head[1:] == [b"missing"]:
                self._stop_if_rotten(name)
                return "", b""
            data = stdout.read(int(head[2]) + 1)
            if len(data) <= int(head[2]):
                raise EOFError
        except BadObject:  # told whole: what follows in the pipe answers the next question
            raise
        except BaseException as error:  # the rest in the pipe would answer the next question
            self._give_up(name, error)
            raise
        oid, data = head[0].decode(), data[:-1]
        if not is_sound(oid, head[1], data):
            raise BadObject(oid, "is not what its name says: it was damaged or changed", self._at)
        return oid, data

    def _give_up(self, name: str, error: BaseException) -> None:
        """End the process; BookError where it is git that failed."""
        self.close()
        if isinstance(error, EOFError):
            self._stop_if_rotten(name)
        if isinstance(error, OSError | EOFError | ValueError | IndexError):
            raise could_not_read(name, self._where) from error

    def _stop_if_rotten(self, name: str) -> None:
        """BookError where an object has a file, and git cannot read it: it is not missing.

        BadObject where the file is damaged, unreadable where this account may not read it; of one
        that is whole the disk refused a read.
        """
        if not _ID.fullmatch(name):
            return
        stop_if_object_hidden(Path(self._where), name)
        if is_broken_file(self._at, name):
            raise BadObject(name, "cannot be read: its file is damaged", self._at)
        if loose_file(self._at, name).exists():
            raise could_not_read(name, self._where)

    def close(self) -> None:
        """End the process; what was asked for is not answered any more."""
        self._due.clear()
        if self._running is not None:
            end(self._running)
            self._running = None


def could_not_read(name: str, where: str) -> BookError:
    """The error where git does not read what is there."""
    return BookError(
        f"git could not read {name[:12]}",
        where=where,
        hint="Try again. If it stays so, `git fsck` in the book's folder says what is damaged.",
    )


def missing(oid: str, where: str = "") -> BookError:
    """The error where a repository lost an object that its history names.

    Raises another one where it is there, and this account may not read it.
    """
    if where:
        stop_if_object_hidden(Path(where), oid)
    return BookError(
        f"object {oid[:12]} is missing from the history",
        where=where,
        hint="Fetch it from another copy of the book.",
    )
