"""What somebody took out and what stands all the same, since somebody else changed it meanwhile.

It follows from history alone, on every box: a removal is in the past of the head, the value
stands, and nobody who knew of the removal wrote it again. It is open until somebody who
knows of both changes the entry or takes it out, or says that it stays, with a reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from engine.book.acknowledgements import acknowledgements, is_word
from engine.book.session import Held, Session
from engine.log.commits import DocumentChange, Saved, ValueChange

FOLDER = "acknowledged/removal"


@dataclass(frozen=True, slots=True)
class Overruled:
    """An entry (empty: the whole document) that was taken out and stands; who changed it."""

    held: Held
    entry: str
    removal: Saved
    change: Saved | None


def overruled(held: Held, life: Sequence[DocumentChange]) -> list[Overruled]:
    """Removals of a document that did not hold, and that nobody has decided on yet.

    A document that nobody changed at the same time as another costs a look at its life only.
    """
    life = [step for step in life if not step.only_decides]  # a merge is nobody's decision
    if not _met(life):
        return []
    steps = [(step.saved, not step.new) for step in life]
    found = list(_open(held, "", steps))
    gone = {step.saved.id for step in life if not step.new}  # said of the document, once
    entries: dict[str, list[ValueChange]] = {}
    for row in held.session.past.rows(held.key, lambda _: True):
        if row.saved.id not in gone and row.decided is None:
            entries.setdefault(_entry(row.address), []).append(row)
    stands = held.values()
    for entry, rows in entries.items():
        taken = {row.saved.id: row for row in rows if row.new is None and row.address in stands}
        if taken:
            marked = [(row.saved, row is taken.get(row.saved.id)) for row in rows]
            found += _open(held, entry, marked)
    known = _acknowledged(held.session) if found else set()
    return [item for item in found if item.removal.id not in known]


def _open(held: Held, entry: str, acts: Sequence[tuple[Saved, bool]]) -> Iterator[Overruled]:
    """The newest removal among some acts, if none of the others was made knowing of it."""
    is_ancestor = held.session.git.is_ancestor
    removals = [saved for saved, out in acts if out]
    if not removals:
        return
    removal = removals[-1]
    others = [saved for saved, out in acts if not out and saved.id != removal.id]
    if not any(is_ancestor(removal.id, other.id) for other in reversed(others)):
        apart = [other for other in others if not is_ancestor(other.id, removal.id)]
        if apart:
            yield Overruled(held, entry, removal, apart[-1])


def _met(life: Sequence[DocumentChange]) -> bool:
    """Whether some step did not begin with what the one before it left."""
    return any(len(step.olds) > 1 or step.olds[0] != before.new for before, step in pairwise(life))


def _entry(address: str) -> str:
    return ".".join(address.split(".")[:2])


def _acknowledged(session: Session) -> set[str]:
    """Removals of which somebody said that what they took out stays."""
    return {
        told.commit
        for told, steps in acknowledgements(session, FOLDER)
        if steps and all(is_word(step) for step in steps)
    }


def everywhere(session: Session) -> list[Overruled]:
    """The same of all documents."""
    return [
        item for held in session.places() for item in overruled(held, session.past.life(held.key))
    ]
