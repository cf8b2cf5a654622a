"""Edits by hand: what somebody changed in a file itself, outside the program.

Noticed, offered, never swallowed: it becomes pencil, or the inked text is put
back; either way a copy of what was found is kept first.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.book.pencilling import FIXED, mine, put_marks
from engine.book.session import Held, Session
from engine.drafts import by_hand
from engine.log.diff import changes_between
from engine.people.identity import require
from engine.repo.work_tree import read_file, write_file
from engine.views import OnDisk
from schemas.address import Value, same_text
from schemas.errors import ReadError, Refused, ValueRefused

FOUND_ON_DISK = "found on disk"


def found_on_disk(session: Session, held: Held) -> OnDisk | None:
    """What somebody changed in the file itself since the last ink, or None."""
    session.inker.mend_if_needed()  # what a crash left is nobody's edit
    found = by_hand.look(session.folder, held.path, session.git.blob(held.blob))
    if found is None:
        return None
    if found.document is None:
        return OnDisk(held.name, (), 0, found.problems, gone=found.data is None)
    inked = session.past.values(held.path, held.blob) or {}
    changes, respelt = changes_between(inked, found.document.values, session.units(found.document))
    extra = (f"{respelt} values only spelt otherwise",) if respelt else ()
    return OnDisk(held.name, tuple(changes), len(found.document.comments), extra=extra)


def take_from_disk(session: Session, held: Held) -> int:
    """Make pencil of what was found on disk, comments in the notes; how many values.

    The file gets its inked text back; a copy of what was found is kept.
    """
    pencil = mine(session, held)
    session.inker.mend_if_needed()
    found = by_hand.look(session.folder, held.path, session.git.blob(held.blob))
    if found is None or found.data is None:
        raise Refused("nothing was changed on disk", where=held.path)
    if found.document is None:
        raise ReadError(list(found.problems))
    document = session.past.document(held.path, held.blob)
    fresh = by_hand.with_comments_in_notes(found.document).values
    wanted = _differences(document.values, fresh)
    fixed = [address for address in wanted if address in FIXED]
    if fixed:
        raise ValueRefused(
            f"{fixed[0]} was changed on disk",
            where=held.path,
            hint="Put it back in the file, then take the rest.",
        )
    if wanted:
        put_marks(session, held, pencil, document, wanted, FOUND_ON_DISK)
    put_back(session, held)
    return len(wanted)


def _differences(old: Mapping[str, Value], new: Mapping[str, Value]) -> dict[str, Value | None]:
    return {
        a: new.get(a) for a in dict.fromkeys([*new, *old]) if not same_text(old.get(a), new.get(a))
    }


def put_back(session: Session, held: Held) -> str:
    """Write the inked text over what is on disk; where the copy of the latter is."""
    require(session.identity, lead=False, what="put a file back")
    with session.inker.locked():  # nobody's save writes the same file meanwhile
        session.refresh()
        held = session.find(held.name)
        data = read_file(session.folder, held.path)
        copy = ""
        if data is not None:
            copy = str(by_hand.keep_copy(session.private, held.path, data, session.clock()))
        write_file(session.folder, held.path, session.git.blob(held.blob))
    return copy
