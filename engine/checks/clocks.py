"""Rules on the stamps of saves: what clocks said, held against the order of history."""

from __future__ import annotations

from engine.book.clocks import doubts
from engine.checks.rule import Say, Says, rule
from engine.checks.view import BookView
from engine.views.wording import backwards_words, count

MOST_TOLD = 3


@rule(
    "stamps-run-backwards",
    "warning",
    "Set the clock of that box right. Saves count in their order; in questions about a moment, "
    "what may be later is shown.",
    "book",
)
def stamps_run_backwards(view: BookView) -> Says:
    """A save is stamped more than 15 minutes before the one that it stands on."""
    clocks = doubts(view.session)
    if clocks is None or not clocks.backwards:
        return
    for item in clocks.last[-MOST_TOLD:]:
        yield Say("", backwards_words(item), document="book", line=0)
    more = clocks.backwards - len(clocks.last[-MOST_TOLD:])
    if more > 0:
        yield Say("", f"{count(more, 'earlier save')} likewise", document="book", line=0)


@rule(
    "stamp-in-the-future",
    "warning",
    "Compare the clocks of the boxes, this one's too, and set the wrong one right.",
    "book",
)
def stamp_in_the_future(view: BookView) -> Says:
    """A save is stamped more than 15 minutes after the clock of whoever checks."""
    clocks = doubts(view.session)
    if clocks is not None and clocks.ahead:
        yield Say("", "a save is stamped later than this clock shows", document="book", line=0)
