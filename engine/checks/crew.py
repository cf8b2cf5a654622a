"""Many documents looked at by several processes, so that a large book is checked in little time.

Invariant: a process of the crew only reads the book; what it finds is kept where whoever sent
it finds it, under the same names as ever. What it did not get to is worked out by the sender:
a crew that cannot work costs time and no truth. It ends when nobody listens any more.

`-P`: what lies in the present folder is never imported; it may be somebody's book.
"""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from engine.book.session import Held, Session

FEW = 120  # documents: sending for help takes as long as looking at these
MOST = 4  # processes
_ONE_OF_IT = "engine.checks.of_the_crew"
_log = logging.getLogger(__name__)
Tell = Callable[[int], None]  # how many were looked at; 0 when it is over


def look_ahead(session: Session, documents: Sequence[Held], tell: Tell) -> None:
    """Have documents looked at; what is kept of them is known to the session afterwards."""
    session.past.count()  # once, before each of them would read it
    names = [held.name for held in documents]
    count = min(MOST, os.cpu_count() or 1)
    _have_done(session, [names[n::count] for n in range(count)], tell)
    session.kept.read_again()


def read_past(session: Session, tell: Tell) -> None:
    """Have the past read into the index."""
    _have_done(session, [[]], tell)


def _have_done(session: Session, shares: Sequence[Sequence[str]], tell: Tell) -> None:
    crew = []
    try:
        crew = [_send(session.folder, names) for names in shares]
        _listen(crew, tell)
    except OSError as error:
        _log.info("no other process can be had: %s", error)
    finally:
        tell(0)
        for each in crew:
            each.kill()
            each.wait()


def _send(folder: Path, names: Sequence[str]) -> subprocess.Popen[str]:
    command = [sys.executable, "-P", "-m", _ONE_OF_IT, str(folder)]
    pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
    sent = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=nowhere, text=True, cwd="/")
    assert sent.stdin is not None
    sent.stdin.write(json.dumps(names))
    sent.stdin.close()
    return sent


def _listen(crew: Sequence[subprocess.Popen[str]], tell: Tell) -> None:
    """Wait for all; they go at one pace, so how far one is tells how far they are."""
    done = 0
    for each in crew:
        assert each.stdout is not None
        for line in each.stdout:
            done = max(done, int(line) * len(crew))
            tell(done)
        each.wait()
