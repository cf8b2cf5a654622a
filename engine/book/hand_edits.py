"""Edits by hand: what somebody changed in a file itself, outside the program.

Noticed, offered, never swallowed: it becomes pencil, or the inked text is put
back; either way a copy of what was found is kept first.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from engine.book.linked_files import blob_id
from engine.book.pencilling import MyPencil
from engine.book.session import Held
from engine.book.typed_values import FIXED
from engine.drafts import by_hand
from engine.log.diff import changes_between
from engine.people.identity import require
from engine.repo.durable import disk_refused
from engine.repo.rights import no_right_to_write
from engine.repo.work_tree import read_file, write_file
from engine.views import Draft, OnDisk
from engine.views.wording import count
from schemas.address import Value, same_text
from schemas.errors import ReadError, Refused, ValueRefused

FOUND_ON_DISK = "found on disk"
_KEPT = "The file is as it was found, or as it was inked."


class HandEdits:
    """What was changed by hand in the file of one document."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def found(self) -> OnDisk | None:
        """What somebody changed in the file itself since the last ink, or None."""
        held, found = self._held, self._look()
        if found is None:
            return None
        if found.document is None:
            return OnDisk(held.name, (), 0, found.problems, gone=found.data is None)
        units = self._session.units(found.document)
        changes, respelt = changes_between(held.values(), found.document.values, units)
        extra = (f"{count(respelt, 'value')} only spelt otherwise",) if respelt else ()
        return OnDisk(held.name, tuple(changes), len(found.document.comments), extra=extra)

    def _look(self) -> by_hand.Found | None:
        self._session.inker.mend_if_needed()  # what a crash left is nobody's edit
        inked = self._session.git.blob(self._held.blob)
        return by_hand.look(self._session.folder, self._held.path, inked)

    def take(self) -> Draft | None:
        """Make pencil of what was found on disk, comments in the notes; my pencil after it.

        The file gets its inked text back; a copy of what was found is kept.
        """
        held, pencil = self._held, MyPencil(self._held)
        pencil.writable()  # refused before anything is looked at
        found = self._look()
        if found is None or found.data is None:
            raise Refused("nothing was changed on disk", where=held.path)
        if found.document is None:
            raise ReadError(list(found.problems))
        fresh = by_hand.with_comments_in_notes(found.document).values
        wanted = _differences(held.read().values, fresh)
        fixed = [address for address in wanted if address in FIXED]
        if fixed:
            raise ValueRefused(
                f"{fixed[0]} was changed on disk",
                where=held.path,
                hint="Put it back in the file, then take the rest.",
            )
        if wanted:
            pencil.put(wanted, FOUND_ON_DISK)
        self.put_back()
        return pencil.draft()

    def put_back(self) -> str:
        """Write the inked text over what is on disk; where the copy of the latter is.

        Where the same text was staged by hand it is taken out of git's index as well: the
        next commit by hand would ink what was just put back.
        """
        session, private = self._session, self._session.git.private
        require(session.identity, lead=False, what="put a file back")
        try:
            return self._put_back()
        except PermissionError as error:
            raise no_right_to_write(
                Path(error.filename or session.folder), private, kept=_KEPT
            ) from error
        except OSError as error:
            raise disk_refused(
                error, session.folder, f"{_KEPT} Look at space and rights."
            ) from error

    def _put_back(self) -> str:
        session = self._session
        with session.inker.locked():  # nobody's save writes the same file meanwhile
            session.refresh()
            held = self._held.again()
            data = read_file(session.folder, held.path)
            copy = ""
            if data is not None:
                copy = str(by_hand.keep_copy(session.private, held.path, data, session.clock()))
            write_file(session.folder, held.path, session.git.blob(held.blob))
            if data is not None:
                session.inker.unstage(held.path, blob_id(data, held.blob))
        return copy


def _differences(old: Mapping[str, Value], new: Mapping[str, Value]) -> dict[str, Value | None]:
    return {
        a: new.get(a) for a in dict.fromkeys([*new, *old]) if not same_text(old.get(a), new.get(a))
    }
