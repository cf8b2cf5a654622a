"""Which revision a paper shows, and how that revision stands: in words, at one commit.

A paper names the ink of its record, not the head of the book: other records are
inked every day, and a paper on a machine must not look old for that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.book import pencilling, sign_offs
from engine.book.revisions import Revision, Revisions
from engine.book.run_log import RunLog
from engine.book.session import Held
from engine.exports.paper import Stamp
from engine.views import Draft, Mark
from engine.views.wording import count, day, moment
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
    return held.session.alike(stood.point, held)


def stamp_of(held: Held, stood: StampedRevision, draft: Draft | None) -> Stamp:
    """The stamp of a paper; `draft` is the pencil that is printed on it."""
    session = held.session
    inks = Revisions(held).inks()
    ink = _ink_of(held, stood, inks)
    # a text that came back is no old one; a merge may have brought back what stands
    newer = None if is_now(held, stood) else [*inks, *_last_merge(held)][-1]
    others = [d for d in pencilling.drafts(session, held) if d.who.key != session.identity.key]
    signed, accepted = _signed(held, stood)
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
        confirmed=_confirmed(held, stood),
        superseded=_newer_words(newer) if newer else "",
        pencil=pencil_words(draft) if draft else "",
        others=_others_words(others) if others and is_now(held, stood) else "",
    )


def _last_merge(held: Held) -> list[Mark]:
    """The merge by which the present text stands, where one decided for it."""
    past = Revisions(held)
    life = [step for step in past.life() if step.new]
    return past.merges()[-1:] if life and life[-1].only_decides else []


def _ink_of(held: Held, stood: StampedRevision, inks: list[Mark]) -> Mark:
    """The ink in force at a commit: the last one in its past, the same text before others."""
    known = held.session.past.known_at(stood.point.commit)
    made = [ink for ink in inks if known(ink.commit)]
    steps = [step for step in Revisions(held).life() if step.new]
    by_commit = {step.saved.id: step.new for step in steps}
    same = [ink for ink in made if by_commit.get(ink.commit) == stood.point.blob]
    return (same or made or inks)[-1]


def _signed(held: Held, stood: StampedRevision) -> tuple[str, bool]:
    """How the sign-off of this revision stands, in words."""
    done = Revisions(held).sign_offs()
    if not done:
        return "not signed off", False
    head = done[-1].sign_off
    by = f"{held.session.person(head.who).name}, {day(head.at)}"
    if is_now(held, stood):
        if sign_offs.state(held, stood.document) == "yes":
            return f"signed off by {by}", True
        return f"not signed off: the sign-off by {by} is void, something changed since", False
    same = [s for s in done if _says_it(held, stood, s.sign_off.commit)]
    if same:
        then = same[-1].sign_off
        who = held.session.person(then.who).name
        return f"this text was signed off by {who}, {day(then.at)}", False
    return "this revision was never signed off", False


def _confirmed(held: Held, stood: StampedRevision) -> str:
    """Whether this revision was read back at the machine, in words."""
    done = [e for e in RunLog(held).log() if e.what == "confirm" and e.commit]
    if not done:
        return "never read back at the machine"
    same = [e for e in done if _says_it(held, stood, e.commit)]
    rank = held.session.past.rank
    last = max(reversed(same or done), key=lambda entry: rank(entry.commit))
    by = f"by {last.who.name}, {day(last.at)}"
    if same:
        return f"read back at the machine {by}"
    return f"not read back at the machine as it is here; another revision was, {by}"


def _says_it(held: Held, stood: StampedRevision, commit: str) -> bool:
    """Whether the record said at a commit what it said there."""
    return held.session.alike(Revisions(held).at_commit(commit, ""), stood.point)


def _newer_words(newer: Mark) -> str:
    return f"superseded by {newer.name}, {moment(newer.when)}, {newer.who.name}"


def pencil_words(draft: Draft) -> str:
    """How much is pencilled, and by whom."""
    return f"{count(len(draft.marks), 'value')} in pencil by {draft.who.name}, not inked"


def _others_words(drafts: list[Draft]) -> str:
    whose = ", ".join(f"{d.who.name} ({len(d.marks)})" for d in drafts)
    return f"others have pencil on this record, not in this file: {whose}"
