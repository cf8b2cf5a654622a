"""Which revision a paper shows, and how that revision stands: in words, at one commit.

A paper names the ink of its record, not the head of the book: other records are
inked every day, and a paper on a machine must not look old for that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.book import pencilling, revisions, sign_offs
from engine.book.revisions import Revision
from engine.book.session import Held, Session
from engine.exports.paper import Stamp
from engine.views import Draft, Mark
from schemas.document import Document
from schemas.record import Record


@dataclass(frozen=True, slots=True)
class StampedRevision:
    """A record as it stood at one commit, and the files that were there."""

    point: Revision
    document: Document
    record: Record
    entries: Mapping[str, str]


def is_now(held: Held, stood: StampedRevision) -> bool:
    """Whether what stood there is what is inked now."""
    return stood.point.blob == held.blob


def stamp_of(session: Session, held: Held, stood: StampedRevision, draft: Draft | None) -> Stamp:
    """The stamp of a paper; `draft` is the pencil that is printed on it."""
    inks = revisions.inks(session, held)
    ink = _ink_of(session, held, stood, inks)
    newer = None if is_now(held, stood) else inks[-1]  # a text that came back is no old one
    others = [d for d in pencilling.drafts(session, held) if d.who.key != session.identity.key]
    signed, accepted = _signed(session, held, stood)
    book = session.book_file().book
    return Stamp(
        book=book.name,
        book_id=book.id,
        document=held.name,
        key=held.key,
        ink=ink.name,
        commit=ink.commit,
        when=ink.when,
        who=ink.who.name,
        printed=session.clock(),
        signed=signed,
        accepted=accepted,
        confirmed=_confirmed(session, held, stood),
        superseded=_newer_words(newer) if newer else "",
        pencil=pencil_words(draft) if draft else "",
        others=_others_words(others) if others and is_now(held, stood) else "",
    )


def _ink_of(session: Session, held: Held, stood: StampedRevision, inks: list[Mark]) -> Mark:
    """The ink in force at a commit: the last one in its past, the same text before others."""
    order = session.past.order_of
    until = order(stood.point.commit)
    made = [ink for ink in inks if order(ink.commit) <= until]
    steps = [step for step in revisions.life(session, held) if step.new]
    by_commit = {step.saved.id: step.new for step in steps}
    same = [ink for ink in made if by_commit.get(ink.commit) == stood.point.blob]
    return (same or made or inks)[-1]


def _signed(session: Session, held: Held, stood: StampedRevision) -> tuple[str, bool]:
    """How the sign-off of this revision stands, in words."""
    done = revisions.sign_offs(session, held)
    if not done:
        return "not signed off", False
    head = done[-1].sign_off
    by = f"{session.person(head.who).name}, {head.at:%Y-%m-%d}"
    if is_now(held, stood):
        if sign_offs.state(session, held, stood.document) == "yes":
            return f"signed off by {by}", True
        return f"not signed off: the sign-off by {by} is void, something changed since", False
    same = [s for s in done if revisions.at_commit(session, held, s.sign_off.commit, "").blob
            == stood.point.blob]  # fmt: skip
    if same:
        then = same[-1].sign_off
        who = session.person(then.who).name
        return f"this text was signed off by {who}, {then.at:%Y-%m-%d}", False
    return "this revision was never signed off", False


def _confirmed(session: Session, held: Held, stood: StampedRevision) -> str:
    """Whether this revision was read back at the machine, in words."""
    done = [e for e in revisions.run_log(session, held, None) if e.what == "confirm" and e.commit]
    if not done:
        return "never confirmed at the machine"
    blob = stood.point.blob
    same = [e for e in done if revisions.at_commit(session, held, e.commit, "").blob == blob]
    last = max(same or done, key=lambda entry: entry.at)
    by = f"by {last.who.name}, {last.at:%Y-%m-%d}"
    if same:
        return f"confirmed at the machine {by}"
    return f"not confirmed at the machine as it is here; another revision was, {by}"


def _newer_words(newer: Mark) -> str:
    return f"superseded by {newer.name}, {newer.when:%Y-%m-%d %H:%M}, {newer.who.name}"


def pencil_words(draft: Draft) -> str:
    """How much is pencilled, and by whom."""
    count = len(draft.marks)
    values = "1 value" if count == 1 else f"{count} values"
    return f"{values} in pencil by {draft.who.name}, not inked"


def _others_words(drafts: list[Draft]) -> str:
    whose = ", ".join(f"{d.who.name} ({len(d.marks)})" for d in drafts)
    return f"others have pencil on this record, not in this file: {whose}"
