"""One document of a book, as people speak of it: everything said of a record is said here.

A handle knows its session and the document's identity, so it goes on after a
rename by anybody. It keeps nothing else: each act looks at the head first. The
objects that it hands out (`pencil`, `past`, `runs`, …) are of the head at that
moment; ask the handle again for a later one.

Not to be mixed up with `schemas.document.Document`, which is a text with its
model and never changes, nor with `Held`, which is the document at one head.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from engine.book import (
    bringing_back,
    inking,
    layout,
    opening,
    pencilling,
    records,
    sign_offs,
    taken_out,
)
from engine.book.chosen import Group, Wanted
from engine.book.comparing import DocumentPast
from engine.book.hand_edits import HandEdits
from engine.book.pencilling import MyPencil
from engine.book.runs import Runs
from engine.book.session import Held, Session
from engine.views import Draft, FieldRow, Inked, Shown
from schemas.address import Value, flatten
from schemas.errors import ReadError, UsageError
from schemas.fields import Described

if TYPE_CHECKING:
    from engine.book.derived import Derived
    from engine.book.figures import RecordFigures
    from engine.book.papers import Papers
    from engine.book.programs import RecordProgram


class DocumentHandle:
    """One record, cell, the people or the book's own file, in an opened book."""

    def __init__(self, session: Session, name: str, key: str = "") -> None:
        """Take hold of a document by name, path or record id, of the present or the past.

        UsageError with near names where there never was one. With `key`, of the one with that
        identity, which was called `name` when it was looked at.
        """
        self._session = session
        session.refresh()
        self._asked = name
        self._known: Held | None = None
        if key:
            self._known = taken_out.identified(session, name, key)
        elif not opening.stray_path(session, name):
            self._known = taken_out.find(session, name)
        known = self._known
        old_name = known and not known.gone and not key and session.knows(name) is None
        self._by_old_name = bool(old_name)

    def held(self) -> Held:
        """The document at the present head. UsageError where it is gone or was never inked.

        Nobody changes a record by a name that it has no longer: the present one is told.
        """
        known = self._anywhere()
        if known.gone:
            raise taken_out.is_gone(known)
        if taken_out.is_log(known):
            raise taken_out.written_once(known)
        if self._by_old_name:
            raise UsageError(
                f"{self._asked} is called {known.name} now", hint="Use that name, or its identity."
            )
        return known

    def _anywhere(self) -> Held:
        """The same; where it is gone, as it stood last."""
        self._session.refresh()
        if self._known is None:
            self._known = taken_out.find(self._session, self._asked)
        elif self._known.gone or not self._session.stands(self._known):
            self._known = taken_out.held_of(self._session, self._known.key)
        else:
            self._known = self._known.again()
        return self._known

    @property
    def gone(self) -> bool:
        """Whether it was in the book once and is not now: then it has a past and nothing else."""
        return self._anywhere().gone

    def namesakes(self) -> list[str]:
        """Other records that once had its present name, each told with its identity."""
        return taken_out.namesakes(self._anywhere())

    @property
    def name(self) -> str:
        """What it is called now, or was called last."""
        return self._anywhere().name

    @property
    def key(self) -> str:
        """Its identity, which no rename changes: a record's id, or the name of what is none."""
        return self._anywhere().key

    # looking

    def show(self, at: str = "now") -> Shown:
        """What stands in it at a mark, as nested tables."""
        return self.past.show(at)

    def values(self, at: str = "now") -> dict[str, Value]:
        """Every value at a mark, by address. ReadError where that text cannot be used."""
        shown = self.show(at)
        if shown.problems:
            raise ReadError(list(shown.problems))
        return flatten(shown.values)

    def layout(self) -> list[FieldRow]:
        """The rows of the editor."""
        return layout.rows(self.held())

    def describe(self, address: str) -> Described | None:
        """What an address means, and its unit."""
        return layout.describe_resolved(self.held(), address)

    def drafts(self) -> list[Draft]:
        """Everybody's pencil on it."""
        return pencilling.drafts(self._session, self.held())

    # what belongs together

    @property
    def pencil(self) -> MyPencil:
        """My pencil: set, clear, undo, rub out, keep."""
        return MyPencil(self.held())

    @property
    def on_disk(self) -> HandEdits:
        """What was changed in the file itself: look at it, take it, put the inked text back."""
        return HandEdits(self.held())

    @property
    def past(self) -> DocumentPast:
        """Marks, comparisons, and the life of each value."""
        return DocumentPast(self._anywhere())

    @property
    def runs(self) -> Runs:
        """A record's runs: start, confirm, stage, piece, refill, stop, and their log."""
        return Runs(self.held())

    @property
    def figures(self) -> RecordFigures:
        """A record's figures, what they follow from, and what a change does to them."""
        from engine.book.figures import RecordFigures  # a question about the past needs none

        return RecordFigures(self._anywhere())

    @property
    def derived(self) -> Derived:
        """What follows from taught values: expected positions, the grid of the tray."""
        from engine.book.derived import Derived  # asked for seldom

        return Derived(self.held())

    @property
    def program(self) -> RecordProgram:
        """A record's part program: what it says, and what changed since it was proved out."""
        from engine.book.programs import RecordProgram  # what reads programs: not at start

        return RecordProgram(self.held())

    @property
    def papers(self) -> Papers:
        """A record's papers: the set-up sheet, and the tray plate."""
        from engine.book.papers import Papers  # figures and drawing: not at start

        return Papers(self.held())

    # ink

    def needs_reason(self, only: Sequence[str] = ()) -> bool:
        """Whether inking my pencil, or some of its addresses, needs a reason."""
        changes = self.past.compare().changes
        chosen = [c for c in changes if not only or c.address in only]
        return bool(inking.needs_reason(self._session, chosen))

    def ink(
        self,
        reason: str = "",
        only: Sequence[str] = (),
        group: Group = "ask",
        *,
        files: bool = False,
    ) -> Inked:
        """Save my pencil, with the program and photos that changed; or take a stray file in.

        `only`: what lies at or below these addresses; the rest stays in pencil. `group` says
        what becomes of older pencil that belongs together with it; BelongsTogether asks.
        `files`: the program and the photos go along though only addresses are named.
        """
        self._session.refresh()
        stray = "" if self._known else opening.stray_path(self._session, self._asked)
        if stray:
            return records.adopt(self._session, stray, reason)
        return inking.ink(self.held(), reason, Wanted(tuple(only), group, files))

    def restore(
        self, mark: str = "", address: str = "", reason: str = "", *, name: str = ""
    ) -> Inked:
        """Ink again what stood at a mark. What was taken out of the book comes back by it.

        That needs no mark: it then stands as it did last; `name` gives a record another name.
        """
        known = self._anywhere()
        if known.gone:
            return bringing_back.bring_back(known, mark, address, reason, name)
        if taken_out.is_log(known):
            raise taken_out.written_once(known)
        if name or not mark:
            hint = "`marks` lists them." if not mark else "`rename` gives a record another name."
            raise UsageError(f"{known.name} is in the book: go back to which mark?", hint=hint)
        return records.restore(known, mark, address, reason)

    def sign_off(self, note: str = "") -> Inked:
        """Accept a record as it is inked now."""
        return sign_offs.sign_off(self.held(), note)

    def copy(self, name: str, reason: str = "") -> Inked:
        """Begin another record as a copy of this one."""
        return records.copy(self.held(), name, reason)

    def rename(self, name: str, reason: str = "") -> Inked:
        """Give a record another name; its history, and this handle, go along."""
        return records.rename(self.held(), name, reason)

    def retire(self, reason: str = "", *, back: bool = False) -> Inked:
        """Take a record out of the list, or back into it."""
        return records.retire(self.held(), reason, back=back)
