"""One person's save: what every act does around its own plan, in one place.

The person is asked for before the lock is taken, and again on the head that the save
is planned on: rights may have been taken away meanwhile. The plan is made on that head
and never on an older one. Nothing is answered before the commit is made.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, field
from typing import TypeVar

from engine.book.commit_words import line, trailers
from engine.book.mending import InkedPencil
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan, Committed
from engine.people.identity import require, seal
from engine.views import Change, Inked
from schemas.errors import WitnessmarkError


@dataclass(frozen=True)
class Save:
    """What an act saves on the head that it looked at, and what it answers with.

    `held` is the document that the commit is about, by the name that it has afterwards;
    the rest is as in `CommitPlan`.
    """

    held: Held
    kind: str
    subject: str
    documents: Mapping[str, bytes | None]
    reason: str = ""
    changes: tuple[Change, ...] = ()
    messages: tuple[str, ...] = ()
    linked: Mapping[str, bytes] = field(default_factory=dict)
    writes_linked: bool = False
    pencil: InkedPencil | None = None
    body: tuple[str, ...] = ()  # of the message, where the changes themselves do not make it


AnySave = TypeVar("AnySave", bound=Save)


def save(
    session: Session, make: Callable[[], AnySave], *, what: str, lead: bool = False
) -> Committed[AnySave]:
    """Save what `make` plans on the present head. Refused where the person may not do `what`.

    `make` finds the session at that head; it may raise, and is called again where
    somebody else saved meanwhile.
    """
    require(session.identity, lead=lead, what=what)

    def plan(head: str) -> tuple[CommitPlan, AnySave]:
        session.move_to(head)
        require(session.identity, lead=lead, what=what)
        made = make()
        return _planned(session, made), made

    done = session.inker.commit(plan)
    with after_the_save():
        session.refresh()
    return done


def after_the_save() -> AbstractContextManager[None]:
    """What is only looked at once a save is one: where the disk refuses that, it is one still."""
    return suppress(OSError, WitnessmarkError)


def _planned(session: Session, made: Save) -> CommitPlan:
    draft = made.pencil.draft if made.pencil else ""
    return CommitPlan(
        made.subject,
        made.body or [line(change) for change in made.changes],
        trailers(session.identity, made.kind, made.held.key, made.reason, draft),
        seal(session.identity, session.clock()),
        made.documents,
        made.linked,
        made.writes_linked,
        made.pencil,
    )


def inked(done: Committed[AnySave]) -> Inked:
    """What a save answers with."""
    made = done.kept
    messages = (*made.messages, *done.said)
    return Inked(made.held.name, done.commit, made.subject, made.changes, messages)
