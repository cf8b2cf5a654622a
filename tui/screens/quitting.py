"""Leaving: all pencil of this person, listed once.

Invariant: leaving loses nothing, and is done by no key that was typed before the
list was seen.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import ago, count
from tui.safe import fit
from tui.widgets.deciding import DecidingPage
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.views import Draft

_NAMED = 3  # addresses that are named for each record


class Leaving(DecidingPage):
    """Lists the pencil that stays. Its answer: True to leave, a record to open, or None."""

    ENTER = "leave, or open the chosen record"
    LEAVE = ("option", "q")

    def __init__(self, drafts: Sequence[Draft]) -> None:
        super().__init__("stay")
        self._drafts = drafts

    def heading(self) -> str:
        """Leaving."""
        return "Leaving: your pencil stays"

    def list_choices(self) -> list[Item]:
        """How much there is, each record with its pencil, and the two ways on."""
        number = sum(len(draft.marks) for draft in self._drafts)
        they = "It stays" if number == 1 else "They stay"
        text = (
            f"You have {count(number, 'value')} in pencil. {they}, and others see "
            f"{'it' if number == 1 else 'them'}, until you come back."
        )
        leave: StyledRow = (("  ", ""), ("q", "strong"), ("    leave; the pencil stays", ""))
        items = [paragraph(0, text), paragraph(1, ""), fixed(self.LEAVE, leave)]
        items += [self.nothing_chosen(), paragraph(2, "")]
        now = self.bench.clock()
        for draft in self._drafts:
            items.append(fixed(draft.document, *_rows(draft, now, self.app.size.width)))
        return items

    def letters(self) -> Mapping[str, Hashable]:
        """The one that asked to leave chooses to."""
        return {"q": self.LEAVE}

    def in_words(self, chosen: Hashable) -> str:
        """Leave, or open a record."""
        return "leave; the pencil stays" if chosen == self.LEAVE else f"open {chosen} instead"

    def carry_out(self, chosen: Hashable) -> None:
        """Leave, or open the chosen record."""
        self.dismiss(True if chosen == self.LEAVE else chosen)


def _rows(draft: Draft, now: datetime, width: int) -> list[StyledRow]:
    named = [mark.address for mark in draft.marks[:_NAMED]]
    more = len(draft.marks) - len(named)
    text = ", ".join(named) + (f" and {more} more" if more > 0 else "")
    first: StyledRow = (
        (f"  ~ {draft.document}", "strong"),
        (f"   {count(len(draft.marks), 'value')}, begun {ago(draft.since, now)}", ""),
    )
    return [first, ((fit(f"      {text}", width - 1), ""),), ()]
