"""A git at work: its pipes, and how it is ended so that nothing of it stays behind.

`git.py` alone starts one; whoever reads from it needs no more than this.
"""

from __future__ import annotations

import fcntl
from collections.abc import Sequence
from contextlib import suppress
from typing import IO, Protocol

from schemas.errors import BookError

PIPE_BYTES = 1 << 20  # how far git may be ahead of us


class Process(Protocol):
    """What is used of a process."""

    stdin: IO[bytes]
    stdout: IO[bytes]
    stderr: IO[bytes]
    returncode: int

    def poll(self) -> int | None:
        """Its exit code; None while it works."""

    def kill(self) -> None:
        """End it at once."""

    def wait(self) -> int:
        """Its exit code, when it has ended."""

    def communicate(self, data: bytes) -> tuple[bytes, bytes]:
        """Output and errors, when it has read `data` and ended."""


class Running(Protocol):
    """Holds a process, and ends it where it is forgotten."""

    proc: Process


class Starter(Protocol):
    """Whoever starts gits in one repository."""

    def start(self, words: Sequence[str]) -> Running:
        """A git at work."""


def widen(pipe: IO[bytes]) -> None:
    """Let git be further ahead of us than a pipe usually allows, where the system lets it."""
    with suppress(OSError):
        fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE_BYTES)


def end(running: Running, *, kill: bool = True) -> bytes:
    """End a process and close its pipes; what it said of errors, if it was left to end itself."""
    process = running.proc
    if kill:
        process.kill()
    with suppress(OSError):
        process.stdin.close()
    process.stdout.close()
    errors = b"" if kill else process.stderr.read()
    process.stderr.close()
    process.wait()
    return errors


def failed(verb: str, errors: bytes, where: str, hint: str) -> BookError:
    """The error where a verb of git ended badly, with git's own words."""
    said = errors.decode(errors="replace").strip()[:300]
    return BookError(f"git {verb} failed: {said}", where=where, hint=hint)
