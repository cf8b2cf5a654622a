"""Pencil acts: set, clear, undo, rub out, bring back, keep, take from disk.

Nothing here changes a file of the book. An accepted edit is in the journal, on
the disk, before the act returns; a refused one leaves everything as it was.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from engine.book.session import Held, Session
from engine.drafts.conflicts import contested
from engine.drafts.pencil import Pencil, PencilMark, Replayed, in_words, journals
from engine.log.diff import delta_of
from engine.people.identity import require
from engine.repo.work_tree import read_file
from engine.views import Draft, Pencilled, Who
from schemas.address import Tree, Value, flatten, grow, lies_in, put, same_text, take_out
from schemas.cell import Cell
from schemas.document import Document, check_tree, kind_of
from schemas.errors import ReadError, Refused, UsageError, ValueRefused
from schemas.fields import Described
from schemas.record import Record, is_link
from schemas.typed import describe_known, read_as

FIXED = ("format", "record.id", "record.copied_from", "book.id")


def mine(session: Session, held: Held) -> Pencil:
    """My pencil on a document. Refused for somebody who may not ink it."""
    require(session.identity, lead=kind_of(held.path) != "record", what=f"change {held.name}")
    return _own(session, held)


def _own(session: Session, held: Held) -> Pencil:
    """My pencil on a document, to be looked at only."""
    return Pencil(session.private, session.identity.key, held.journal)


def live_marks(session: Session, held: Held, pencil: Pencil) -> list[PencilMark]:
    """Marks that still differ from what is inked now."""
    return live(pencil.state(), session.past.values(held.path, held.blob) or {})


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


def drafts(session: Session, held: Held | None = None) -> list[Draft]:
    """Everybody's pencil, on one document or all."""
    by_key = {place.journal: place for place in session.places()}
    found = []
    for pencil in journals(session.private):
        place = by_key.get(pencil.document)
        if place is None or (held is not None and place.key != held.key):
            continue
        draft = _draft(session, place, pencil)
        if draft is not None:
            found.append(draft)
    return found


def draft(session: Session, held: Held) -> Draft | None:
    """My pencil on a document, or None."""
    return _draft(session, held, _own(session, held)) if session.identity.key else None


def _draft(session: Session, held: Held, pencil: Pencil) -> Draft | None:
    marks = live_marks(session, held, pencil)
    if not marks:
        return None
    who = session.person(pencil.person)
    inked = session.past.values(held.path, held.blob) or {}
    against = contested(session.past, held.key, marks, inked, pencil.person)
    unit = session.units_at(held.path, held.blob)
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


# changing it


def set_values(session: Session, held: Held, typed: Mapping[str, str]) -> None:
    """Pencil values as typed, all or none. ValueRefused says why one is not accepted."""
    pencil = mine(session, held)
    document = session.past.document(held.path, held.blob)
    values = overlay(document, live_marks(session, held, pencil)).values
    wanted: dict[str, Value | None] = {}
    for address, text in typed.items():
        described = _described(session, document, address)
        _refuse_fixed(address)
        _check_keys(session, document, address)
        by_hash = address.endswith(".sha256") and text.strip().lower() == "now"
        meant = _hash_of_link(session, {**values, **wanted}, address) if by_hash else text
        wanted[address] = read_as(described, meant)
        if is_link(address) and address != "program.file":
            wanted[address.removesuffix("file") + "sha256"] = _photo_hash(session, text)
    put_marks(session, held, pencil, document, wanted)


def put_values(session: Session, held: Held, values: Mapping[str, Value], note: str) -> None:
    """Pencil values that were worked out, with a note that says so."""
    document = session.past.document(held.path, held.blob)
    put_marks(session, held, mine(session, held), document, values, note)


def clear(session: Session, held: Held, address: str) -> None:
    """Pencil the removal of a value, or of everything in a table."""
    pencil = mine(session, held)
    document = session.past.document(held.path, held.blob)
    _refuse_fixed(address)
    present = overlay(document, live_marks(session, held, pencil)).values
    inside = [known for known in present if lies_in(known, address)]
    if not inside:
        describe_known(type(document.model), address)
        raise ValueRefused(f"{address} has no value to take out")
    put_marks(session, held, pencil, document, dict.fromkeys(inside))


def _refuse_fixed(address: str) -> None:
    if address in FIXED:
        raise ValueRefused(
            f"{address} is never changed by hand",
            hint="`copy` gives a new identity, `rename` keeps it.",
        )


def put_marks(
    session: Session,
    held: Held,
    pencil: Pencil,
    document: Document,
    wanted: Mapping[str, Value | None],
    note: str = "",
    do: str = "set",
) -> None:
    """Lay values in pencil, all or none. ValueRefused where they break a rule together."""
    at = session.clock()
    inked = document.values
    marks = [
        PencilMark(address, value, inked.get(address), session.head, at, note)
        for address, value in wanted.items()
    ]
    others = [m for m in live_marks(session, held, pencil) if m.address not in wanted]
    try:
        overlay(document, [*others, *marks])
    except ReadError as error:
        problem = error.problems[0]
        raise ValueRefused(problem.what, where=problem.address, hint=problem.hint) from None
    pencil.put(marks, do)


def _check_keys(session: Session, document: Document, address: str) -> None:
    """A station or axis that the cell does not have is a slip of the keyboard."""
    cell = session.cell_of(document)
    keys = address.split(".")
    if not isinstance(document.model, Record) or cell is None:
        return
    if keys[0] in ("positions", "approach"):
        _known(
            keys[1], cell.station_order(), f"the cell {document.model.record.cell} has no station"
        )
    if keys[0] == "positions" and len(keys) > 2:
        _known(keys[2], _axes_of(cell, keys[1]), f"the station {keys[1]} has no axis")


def _axes_of(cell: Cell, station: str) -> list[str]:
    wanted = cell.stations[station].axes if station in cell.stations else []
    return [axis for axis in cell.axis_order() if axis in wanted] or cell.axis_order()


def _known(key: str, names: Sequence[str], what: str) -> None:
    if key not in names:
        near = difflib.get_close_matches(key, names, n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        raise ValueRefused(f"{what} {key!r}", hint=f"{hint}It has: {', '.join(names)}.")


def _described(session: Session, document: Document, address: str) -> Described:
    """What may stand at an address, with the unit that a person would say."""
    known = describe_known(type(document.model), address)
    return replace(known, unit=session.units(document)(address))


def _hash_of_link(session: Session, values: Mapping[str, Value | None], address: str) -> str:
    path = values.get(address[: -len("sha256")] + "file")
    data = read_file(session.folder, str(path)) if path else None
    if data is None:
        raise ValueRefused(
            f"there is no file to take the hash of at {path or 'no path'}",
            where=address,
            hint="Set the path first.",
        )
    return hashlib.sha256(data).hexdigest()


def _photo_hash(session: Session, path: str) -> str | None:
    """The hash of a picture that is named; None where it is not there yet (a finding says so)."""
    try:
        data = read_file(session.folder, path)
    except UsageError:
        return None
    return hashlib.sha256(data).hexdigest() if data is not None else None


def step(session: Session, held: Held, do: str) -> str:
    """`undo` or `redo` one act; what that act was, in words."""
    return in_words(mine(session, held).step(do))


def rub_out(session: Session, held: Held, addresses: Sequence[str]) -> int:
    """Take my marks away, all or those at and below some addresses; how many."""
    pencil = mine(session, held)
    known = list(pencil.state().marks)
    wanted = [a for a in known if any(lies_in(a, address) for address in addresses)]
    if (addresses and not wanted) or not known:
        raise Refused(f"there is no pencil of {session.identity.name} to rub out", where=held.name)
    return len(pencil.rub_out(wanted, session.clock()))


def bring_back(session: Session, held: Held) -> int:
    """Put back what I rubbed out last; how many marks."""
    return len(mine(session, held).bring_back())


def keep(session: Session, held: Held) -> int:
    """Decide for my pencil where others inked meanwhile; how many marks were contested."""
    pencil = mine(session, held)
    document = session.past.document(held.path, held.blob)
    marks = live_marks(session, held, pencil)
    against = contested(session.past, held.key, marks, document.values, session.identity.key)
    if not against:
        raise Refused("nobody inked the same thing meanwhile", where=held.name)
    put_marks(session, held, pencil, document, {m.address: m.value for m in marks}, do="keep")
    return len(against)


def tree_in_pencil(session: Session, held: Held) -> Tree:
    """A document's tree with my pencil on it."""
    return document_in_pencil(session, held).tree


def document_in_pencil(session: Session, held: Held) -> Document:
    """A document with my pencil on it, mark by mark where they do not all go with it.

    A colleague may have inked away the table that a mark stands in: that mark waits
    in the draft, and the rest is still shown.
    """
    document = session.past.document(held.path, held.blob)
    if not session.identity.key:
        return document
    marks = live_marks(session, held, _own(session, held))
    try:
        return overlay(document, marks)
    except ReadError:
        for mark in marks:
            with suppress(ReadError):
                document = overlay(document, [mark])
        return document


def values_in_pencil(session: Session, held: Held) -> dict[str, Value]:
    """A document's values with my pencil on them."""
    return flatten(tree_in_pencil(session, held))
