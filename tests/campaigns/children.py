"""Children of one warm process: each does one thing and ends, or is ended.

A fork costs milliseconds where a new interpreter costs a second. What a child has done it
writes down, line by line, outside of the book, before it goes on: only what stands in its
notes was acknowledged.
"""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from schemas.errors import WitnessmarkError

LIMIT = 120.0  # seconds that any child may take: bounded, and never near on a busy machine
FELL_OVER, REFUSED = 70, 3
_write, _open, _close = os.write, os.open, os.close  # notes are no point to die at


@dataclass(frozen=True)
class Ended:
    """How a child ended: its status (below zero: by that signal), and whether in time."""

    status: int
    in_time: bool = True


class Notes:
    """What children did, as lines of JSON in one file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def add(self, what: str, **more: object) -> None:
        """Write one line, with one call."""
        handle = _open(self.path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o666)
        _write(handle, (json.dumps({"what": what, **more}) + "\n").encode())
        _close(handle)

    def all(self, what: str = "") -> list[dict[str, Any]]:
        """Every line, or those of one kind."""
        lines = self.path.read_text().splitlines() if self.path.exists() else []
        found = [json.loads(line) for line in lines]
        return [note for note in found if what in ("", note["what"])]


def start(work: Callable[[], object], notes: Notes, *, group: bool = False) -> int:
    """A child that does `work`; its number. What it could not do is in its notes."""
    child = os.fork()
    if child:
        return child
    try:
        if group:
            os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        os.dup2(null, 0)
        os.dup2(null, 2)
        work()
        os._exit(0)
    except (WitnessmarkError, AssertionError) as error:
        notes.add(
            "refused", error=type(error).__name__, text=str(error), hint=getattr(error, "hint", "")
        )
        os._exit(REFUSED)
    except BaseException as error:  # whatever it is, the child must not go on as its parent
        notes.add(
            "fell over", text=f"{type(error).__name__}: {error}", at=traceback.format_exc()[-900:]
        )
        os._exit(FELL_OVER)


def wait(child: int, limit: float = LIMIT, *, group: bool = False) -> Ended:
    """Wait for a child; one that takes too long is ended."""
    handle = os.pidfd_open(child)
    try:
        in_time = bool(select.select([handle], [], [], limit)[0])
    finally:
        os.close(handle)
    if not in_time:
        with suppress(ProcessLookupError):
            (os.killpg if group else os.kill)(child, signal.SIGKILL)
    return Ended(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), in_time)


def run(
    work: Callable[[], object], notes: Notes, limit: float = LIMIT, *, group: bool = False
) -> Ended:
    """Start a child and wait for it."""
    return wait(start(work, notes, group=group), limit, group=group)


def again(module: str, *words: str, environment: Mapping[str, str]) -> None:
    """Begin this process anew, with another environment; never comes back."""
    os.execve(sys.executable, [sys.executable, "-m", module, *words], {**os.environ, **environment})


def run_and_sweep(work: Callable[[], object], notes: Notes, limit: float = LIMIT) -> Ended:
    """The same, and whatever the child started and left hanging is ended with it."""
    child = start(work, notes, group=True)
    ended = wait(child, limit, group=True)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    return ended
