"""Rules on the stamps of saves: what clocks said, held against the order of history."""

from __future__ import annotations

from engine.book.clocks import moment_of, not_acknowledged, stamped_ahead
from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, rule
from engine.views.wording import backwards_words, count, moment

MOST_TOLD = 3
_KNOWN = (
    "A lead says that it is known, with all before it: `witnessmark acknowledge COMMIT "
    "--reason TEXT`."
)


@rule(
    "stamps-run-backwards",
    "warning",
    "Set the clock of that box right. Saves count in their order; in questions about a moment, "
    f"what may be later is shown. {_KNOWN}",
    "book",
)
def stamps_run_backwards(view: BookView) -> Says:
    """A save is stamped over 15 minutes before the one it stands on; no lead acknowledged it."""
    clocks = not_acknowledged(view.session)
    if clocks is None or not clocks.backwards:
        return
    for item in clocks.last[-MOST_TOLD:]:
        yield Say("", backwards_words(item), document="book", line=0)
    more = clocks.backwards - len(clocks.last[-MOST_TOLD:])
    if more > 0:
        verb = "is" if more == 1 else "are"
        yield Say("", f"so {verb} {count(more, 'earlier save')}", document="book", line=0)


@rule(
    "stamp-in-the-future",
    "warning",
    f"Compare the clocks of the boxes, this one's too, and set the wrong one right. {_KNOWN}",
    "book",
)
def stamp_in_the_future(view: BookView) -> Says:
    """A save is stamped over 15 minutes after the checker's clock; no lead acknowledged it."""
    clocks = not_acknowledged(view.session)
    if clocks is not None and clocks.ahead:
        last = stamped_ahead(view.session)[-1]
        stamped = moment(moment_of(view.session, last.stamp))
        words = f"save {last.id[:10]} of {last.who.name} is stamped {stamped}"
        yield Say("", f"{words}, later than this clock shows", document="book", line=0)
