"""Leaving: all pencil of this person, listed once.

Invariant: leaving loses nothing and asks for nothing but the one key.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import ago, count
from tui.safe import fit
from tui.widgets.keys import MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import Page
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.views import Draft

_NAMED = 3  # addresses that are named for each record


class Leaving(Page):
    """Lists the pencil that stays. Its answer: True to leave, a record to open, or None."""

    KEYS = (
        key("q", "leave", "leave; the pencil stays", "leave"),
        key("Enter", "open it", "open the chosen record instead", "open"),
    )

    def __init__(self, drafts: Sequence[Draft]) -> None:
        super().__init__()
        self._drafts = drafts

    def heading(self) -> str:
        """Leaving."""
        return "Leaving: your pencil stays"

    def live_keys(self) -> tuple[PageKey, ...]:
        """Esc stays."""
        return (*self.KEYS, key("Esc", "stay", "do not leave", "back"), *MOVING)

    def load(self) -> None:
        """All is here already."""
        number = sum(len(draft.marks) for draft in self._drafts)
        they = "It stays" if number == 1 else "They stay"
        text = (
            f"You have {count(number, 'value')} in pencil. {they}, and others see "
            f"{'it' if number == 1 else 'them'}, until you come back."
        )
        items: list[Item] = [paragraph(0, text), paragraph(1, "")]
        now = self.bench.clock()
        for draft in self._drafts:
            items.append(fixed(draft.document, *_rows(draft, now, self.app.size.width)))
        self.lines.show(items)

    def do_leave(self) -> None:
        """Leave."""
        self.dismiss(True)

    def do_open(self) -> None:
        """Open the chosen record."""
        self.dismiss(self.lines.key)


def _rows(draft: Draft, now: datetime, width: int) -> list[StyledRow]:
    named = [mark.address for mark in draft.marks[:_NAMED]]
    more = len(draft.marks) - len(named)
    text = ", ".join(named) + (f" and {more} more" if more > 0 else "")
    first: StyledRow = (
        (f"  ~ {draft.document}", "strong"),
        (f"   {count(len(draft.marks), 'value')}, begun {ago(draft.since, now)}", ""),
    )
    return [first, ((fit(f"      {text}", width - 1), ""),), ()]
