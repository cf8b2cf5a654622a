"""What the clocks of a book's boxes leave open, for an answer to a question about moments.

Order is the history's; a moment is a question put to it. Where stamps run backwards
after the state that an answer begins with, or lie in the future, that is said with it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from engine.book.acknowledgements import of_leads
from engine.book.session import Session
from engine.log.clocks import Jump
from engine.log.commits import Saved
from engine.views import Backwards, Clocks, Who

FOLDER = "acknowledged/clock"


def doubts(session: Session, since: datetime | None = None) -> Clocks | None:
    """What clocks leave open of all that came after a moment, or of all of the past; else None."""
    past, now = session.past, session.clock()
    jumps, ahead = past.jumps(), past.is_ahead(now)
    if not (jumps.count or ahead):
        return None
    start = past.head_at(since, now) if since is not None else ""
    known = past.known_at(start)
    later = [jump for jump in jumps.last if not known(jump.commit)]
    if not (later or ahead):
        return None
    count = jumps.count if len(later) == len(jumps.last) else len(later)
    return Clocks(count, tuple(_backwards(session, jump) for jump in later), ahead)


def not_acknowledged(session: Session) -> Clocks | None:
    """What clocks leave open of all of the past, without what a lead said is known.

    A lead who names a save with a wrong stamp has seen it and all that were before it. The word
    itself, which may stand on such a save, is none more.
    """
    found = doubts(session)
    if found is None:
        return None
    known = _acknowledged(session)
    last = tuple(item for item in found.last if not known(item.commit))
    count = found.backwards if len(last) == len(found.last) else len(last)
    ahead = found.ahead and bool(stamped_ahead(session))
    return Clocks(count, last, ahead) if last or ahead else None


def stamped_ahead(session: Session) -> list[Saved]:
    """Saves with stamps later than this clock shows, oldest first, that no lead acknowledged."""
    known, past = _acknowledged(session), session.past
    found = (past.saved(oid) for oid in past.ahead(session.clock()) if not known(oid))
    return [saved for saved in found if saved is not None]


def to_acknowledge(session: Session, beginning: str) -> list[str]:
    """Saves with wrong stamps whose ids begin so, and that no lead acknowledged yet."""
    found = not_acknowledged(session)
    if found is None:
        return []
    ahead = [saved.id for saved in stamped_ahead(session)] if found.ahead else []
    every = dict.fromkeys([*(item.commit for item in found.last), *ahead])
    return [oid for oid in every if oid.startswith(beginning)]


def _acknowledged(session: Session) -> Callable[[str], bool]:
    """Whether a lead said that a save's stamp is known to be wrong, or said just that with it."""
    words = list(of_leads(session, FOLDER))
    own = {step.saved.id for _, steps in words for step in steps}
    pasts = [session.past.known_at(told.commit) for told, _ in words]
    return lambda oid: oid in own or any(known(oid) for known in pasts)


def _backwards(session: Session, jump: Jump) -> Backwards:
    saved = session.past.saved(jump.commit)
    who = saved.who if saved else Who("", "somebody")
    stamped, after = (moment_of(session, each) for each in (jump.stamp, jump.parent_stamp))
    return Backwards(jump.commit, who, stamped, after, jump.parent)


def moment_of(session: Session, stamp: int) -> datetime:
    """A stamp as the clock of whoever asks would show it."""
    return datetime.fromtimestamp(stamp, UTC).astimezone(session.clock().tzinfo)
