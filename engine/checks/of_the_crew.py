"""One process of the crew: looks at the documents that it is told of, and keeps what it finds.

Invariant: it only reads the book, and ends once nobody listens.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from engine.book.session import Session
from engine.checks import look_at

_STEP = 20  # documents between two words of how far it is
_NICE = 5  # whoever types comes first


def work(folder: Path, names: Sequence[str]) -> None:
    """Look at documents and keep what is found. A document that is gone meanwhile is left."""
    session = Session(folder, lambda: datetime.now(UTC).astimezone())
    session.refresh()
    if not names:
        session.past.progress = _tell
        session.past.count()
    for start in range(0, len(names), _STEP):
        some = names[start : start + _STEP]
        look_at(session, [held for name in some if (held := session.knows(name)) is not None])
        session.kept.flush()
        _tell(start + len(some))


def _tell(number: int) -> None:
    """How far it is, to the one who sent it, who may be gone."""
    print(number, flush=True)  # noqa: T201


if __name__ == "__main__":
    os.nice(_NICE)
    try:
        work(Path(sys.argv[1]), json.load(sys.stdin))
    except (BrokenPipeError, KeyboardInterrupt):
        os._exit(1)  # nobody listens: no word to nobody
