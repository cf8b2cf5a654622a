"""Datum events: something after which positions taught earlier on a cell are suspect.

An event is a short file that is written once and never changed; it needs a reason.
"""

from __future__ import annotations

import secrets
from typing import get_args

from engine.book.saving import Save, inked, save
from engine.book.session import Session
from engine.views import Inked
from schemas.document import FORMATS, check_tree
from schemas.errors import Refused, UsageError
from schemas.log import EventKind


def event(session: Session, cell: str, kind: str, reason: str) -> Inked:
    """Note something after which positions taught earlier on a cell are suspect."""
    name = cell.removeprefix("cells/")
    held = session.find(f"cells/{name}")
    if kind not in get_args(EventKind):
        raise UsageError(
            f"{kind!r} is no kind of event", hint="One of: " + ", ".join(get_args(EventKind))
        )
    if not reason.strip():
        raise Refused("an event needs a reason", hint="Say what happened with --reason TEXT.")

    def plan() -> Save:
        at = session.clock().replace(microsecond=0)
        made = f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}"
        who, why = session.identity.key, " ".join(reason.split())
        entry = {"cell": name, "kind": kind, "at": at, "who": who, "reason": why}
        written = check_tree(
            {"format": FORMATS["event"], "event": entry}, f"events/{name}/{made}.toml"
        )
        files = {written.path: written.bytes}
        return Save(held, "event", f"{held.name}: {kind}", files, reason)

    return inked(save(session, plan, what="note an event"))
