"""What the clocks of a book's boxes leave open, for an answer to a question about moments.

Order is the history's; a moment is a question put to it. Where stamps run backwards
after the state that an answer begins with, or lie in the future, that is said with it.
"""

from __future__ import annotations

from datetime import UTC, datetime

from engine.book.session import Session
from engine.log.clocks import Jump
from engine.views import Backwards, Clocks, Who


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


def _backwards(session: Session, jump: Jump) -> Backwards:
    saved = session.past.saved(jump.commit)
    who = saved.who if saved else Who("", "somebody")
    stamped, after = (
        datetime.fromtimestamp(seconds, UTC).astimezone(session.clock().tzinfo)
        for seconds in (jump.stamp, jump.parent_stamp)
    )
    return Backwards(jump.commit, who, stamped, after, jump.parent)
