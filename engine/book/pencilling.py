"""Pencil: set, clear, undo, rub out, bring back, keep.

Nothing here changes a file of the book. An accepted edit is in the journal, on
the disk, before the act returns; a refused one leaves everything as it was. What cannot be
looked at once an edit is accepted makes no refusal of it: NotShown says that it is in pencil.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from engine.book import typed_values
from engine.book.chosen import last_of_pencil
from engine.book.pencil_rules import accepted, why_not
from engine.book.session import Held, Session
from engine.drafts.conflicts import contested
from engine.drafts.marks import PencilMark
from engine.drafts.pencil import CLOSED, Pencil, hidden_journals, in_words, journals
from engine.drafts.replay import Replayed
from engine.log.diff import delta_of
from engine.people.identity import require
from engine.repo.journal import JournalLine
from engine.views import Draft, Pencilled, Who
from schemas.address import Value, flatten, grow, lies_in, put, same_text, take_out
from schemas.document import Document, check_tree
from schemas.errors import BookError, ReadError, Refused, ValueRefused, once_in_pencil
from schemas.record import is_coupled
from schemas.typed import describe_known


class MyPencil:
    """My pencil on one document. Each act answers with what is in pencil after it."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    # looking

    def draft(self) -> Draft | None:
        """What I have in pencil here, or None."""
        return _draft(self._held, self.journal()) if self._session.identity.key else None

    def document(self) -> Document:
        """The document with my pencil on it, mark by mark where they do not all go with it.

        A colleague may have inked away the table that a mark stands in: that mark waits
        in the draft, and the rest is still shown.
        """
        document = self._held.read()
        if not self._session.identity.key:
            return document
        marks = live_marks(self._held, self.journal())
        try:
            return overlay(document, marks)
        except ReadError:
            for mark in marks:
                with suppress(ReadError):
                    document = overlay(document, [mark])
            return document

    def values(self) -> dict[str, Value]:
        """The document's values with my pencil on them."""
        return flatten(self.document().tree)

    def journal(self) -> Pencil:
        """Where my pencil is written, to be looked at only."""
        return Pencil(self._session.private, self._session.identity.key, self._held.journal)

    def writable(self) -> Pencil:
        """The same, to be written. Refused for somebody who may not ink the document."""
        held = self._held
        require(self._session.identity, lead=not held.is_record, what=f"change {held.name}")
        return self.journal()

    def together(self, address: str) -> list[str]:
        """Addresses of my marks that belong together physically with one of them, it included."""
        marks = [mark.address for mark in live_marks(self._held, self.journal())]
        coupled = self._held.is_record and is_coupled(address)
        return [a for a in marks if a == address or (coupled and is_coupled(a))]

    def became(self) -> str:
        """What became of my pencil where there is none any more, in words; empty if never any."""
        return last_of_pencil(self._held, self.journal())

    # changing it

    def set(self, address: str, text: str) -> Draft | None:
        """Pencil a value as typed."""
        return self.set_all({address: text})

    def set_all(self, typed: Mapping[str, str]) -> Draft | None:
        """Pencil values as typed, all or none. ValueRefused says why one is not accepted."""
        marks = live_marks(self._held, self.writable())
        document = self._held.read()
        present = overlay(document, marks).values
        return self.put(typed_values.read_all(self._held, document, present, typed))

    def clear(self, address: str) -> Draft | None:
        """Pencil the removal of a value, or of everything in a table."""
        marks = live_marks(self._held, self.writable())
        document = self._held.read()
        address = self._held.present(address)
        typed_values.refuse_fixed(address)
        present = overlay(document, marks).values
        inside = [known for known in present if lies_in(known, address)]
        if not inside:
            describe_known(type(document.model), address)
            raise ValueRefused(f"{address} has no value to take out")
        return self.put(dict.fromkeys(inside))

    def put(
        self, values: Mapping[str, Value | None], note: str = "", do: str = "set"
    ) -> Draft | None:
        """Lay values in pencil, all or none. ValueRefused where they break a rule together."""
        pencil, document, session = self.writable(), self._held.read(), self._session
        at, inked = session.clock(), document.values
        marks = [
            PencilMark(address, value, inked.get(address), session.head, at, note)
            for address, value in values.items()
        ]
        others = [m for m in live_marks(self._held, pencil) if m.address not in values]
        try:
            overlay(document, [*others, *marks])
        except ReadError as error:
            problem = error.problems[0]
            raise ValueRefused(problem.what, where=problem.address, hint=problem.hint) from None
        pencil.put(marks, do)
        return self._left(pencil, f"{_listed(values)} in pencil")

    def _left(self, pencil: Pencil, done: str) -> Draft | None:
        """What is in pencil after an act that was accepted. NotShown where it cannot be told."""
        with once_in_pencil(done):
            self._note(pencil)
            draft = _draft(self._held, pencil)
            if pencil.journal.trouble:
                raise BookError(pencil.journal.trouble, where=str(pencil.journal.path))
            return draft

    def _note(self, pencil: Pencil) -> None:
        """Let it be said where an append kept aside what made no sense in my journal."""
        place = self._session.private
        self._session.notices += [
            f"something in your pencil on {self._held.name} made no sense; it was taken out and is "
            f"kept in {place / name}. All else is as it was."
            for name in pencil.journal.aside
        ]

    def keep(self) -> Draft | None:
        """Keep my pencil on top of what somebody else inked meanwhile."""
        held, session = self._held, self._session
        marks = live_marks(held, self.writable())
        inked = held.read().values
        if not contested(session.past, held.key, marks, inked, session.identity.key):
            raise Refused("nobody inked the same thing meanwhile", where=held.name)
        return self.put({m.address: m.value for m in marks}, do="keep")

    def undo(self) -> str:
        """Undo my last act of pencil; what it was, in words."""
        return in_words(self._step("undo"))

    def redo(self) -> str:
        """Do again what I undid last; what it was, in words."""
        return in_words(self._step("redo"))

    def _step(self, do: str) -> JournalLine:
        """`undo` or `redo` my last act. Refused by the document's name where there is none."""
        entry = self.writable().step(do)
        if entry is None:
            raise Refused(f"there is nothing to {do} in your pencil", where=self._held.name)
        return entry

    def rub_out(self, addresses: Sequence[str] = ()) -> Draft | None:
        """Take my marks away, all or those at and below some addresses; they can come back."""
        pencil = self.writable()
        known = list(pencil.state().marks)
        addresses = [self._held.present(address) for address in addresses]
        wanted = [a for a in known if any(lies_in(a, address) for address in addresses)]
        if (addresses and not wanted) or not known:
            who = self._session.identity.name
            raise Refused(f"there is no pencil of {who} to rub out", where=self._held.name)
        pencil.rub_out(wanted, self._session.clock())
        return self._left(pencil, "it is rubbed out")

    def bring_back(self) -> Draft | None:
        """Put back what I rubbed out last. Refused where nothing was."""
        pencil = self.writable()
        if not pencil.bring_back():
            raise Refused("nothing was rubbed out here", where=self._held.name)
        return self._left(pencil, "it is back in pencil")


def _listed(addresses: Mapping[str, object]) -> str:
    first, more = next(iter(addresses), "nothing"), len(addresses) - 1
    return f"{first} and {more} more are" if more > 0 else f"{first} is"


def live_marks(held: Held, pencil: Pencil) -> list[PencilMark]:
    """Marks that still differ from what is inked now, and could have been typed."""
    return accepted(held, pencil.person, live(pencil.state(), held.values()))


def live(state: Replayed, inked: Mapping[str, Value]) -> list[PencilMark]:
    """Marks of a state that still differ from what is inked."""
    marks = state.marks.values()
    return [mark for mark in marks if not same_text(mark.value, inked.get(mark.address))]


def overlay(document: Document, marks: Sequence[PencilMark]) -> Document:
    """A document with pencil laid over it. ReadError where they do not go together."""
    tree = grow(document.values)
    for mark in marks:
        if mark.value is None:
            take_out(tree, mark.address)
        else:
            put(tree, mark.address, mark.value)
    return check_tree(tree, document.path)


# what is pencilled


def drafts(session: Session, only: Held | None = None, *, wait: bool = True) -> list[Draft]:
    """Everybody's pencil, on one document or all.

    Without `wait` a past that is not known yet is not read for who inked the same meanwhile.
    """
    asks = wait or session.past.at_hand()
    found = [_draft(held, pencil, asks=asks) for held, pencil in _seen(session, only)]
    return [draft for draft in found if draft is not None]


def refused(session: Session, only: Held | None = None) -> list[Draft]:
    """Marks that stand in journals and could not have been typed; each `note` says why not."""
    found = []
    for held, pencil in _seen(session, only):
        marks = [
            replace(mark, note=f"not accepted: {why}")
            for mark in live(pencil.state(), held.values())
            if (why := why_not(held, pencil.person, mark))
        ]
        draft = _draft_of(held, pencil, marks)
        found += [draft] if draft is not None else []
    return found


def troubles(session: Session) -> list[str]:
    """Whose pencil cannot be read, where it lies, and why, in words; nothing of it is deleted.

    What this account's rights do not let it read was said when the book was opened.
    """
    root = session.private
    found = [(place, "", "", why) for place, why in hidden_journals(root)]
    for pencil in journals(root):
        pencil.state()
        trouble = pencil.journal.trouble
        place = pencil.journal.path.relative_to(root).as_posix()
        found += [(place, pencil.person, pencil.document, trouble)] if trouble else []
    return [
        f"the pencil of {_whose(session, person, document)} cannot be read: {why} "
        f"({root / place}); it was left as it is"
        for place, person, document, why in found
        if why != CLOSED
    ]


def _whose(session: Session, person: str, document: str) -> str:
    if not person:
        return "somebody"
    held = next((h for h in session.places() if h.journal == document), None)
    return f"{session.person(person).name} on {held.name if held else document}"


def _seen(session: Session, only: Held | None) -> Iterator[tuple[Held, Pencil]]:
    """Everybody's journals, with the documents that they are about."""
    by_journal = {held.journal: held for held in ([only] if only else session.places())}
    for pencil in journals(session.private):
        held = by_journal.get(pencil.document)
        if held is not None:
            yield held, pencil


def _draft(held: Held, pencil: Pencil, *, asks: bool = True) -> Draft | None:
    return _draft_of(held, pencil, live_marks(held, pencil), asks=asks)


def _draft_of(
    held: Held, pencil: Pencil, marks: Sequence[PencilMark], *, asks: bool = True
) -> Draft | None:
    session = held.session
    if not marks:
        return None
    who = session.person(pencil.person)
    inked = held.values()
    against = contested(session.past, held.key, marks, inked, pencil.person) if asks else {}
    unit = held.units()
    shown = tuple(_pencilled(mark, inked, unit, who, against.get(mark.address)) for mark in marks)
    return Draft(held.name, who, min(mark.at for mark in marks), shown)


def _pencilled(
    mark: PencilMark,
    inked: Mapping[str, Value],
    unit: Callable[[str], str],
    who: Who,
    against: Who | None,
) -> Pencilled:
    now = inked.get(mark.address)
    return Pencilled(
        mark.address,
        now,
        mark.value,
        unit(mark.address),
        delta_of(now, mark.value),
        who,
        mark.at,
        mark.note,
        against,
    )
