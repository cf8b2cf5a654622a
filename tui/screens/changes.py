"""A change in one line: address, both values, what differs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views.wording import difference, new_words, old_words
from tui.safe import fit
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.views import Change


def change_row(change: Change, width: int) -> StyledRow:
    """One change in a line: address, old, new, difference."""
    spare = max(width - 80, 0)
    name, side = 27 + min(spare // 4, 20), 14 + min(spare // 4, 10)
    gap = width - name - 2 * side - 9
    return (
        (fit(f"  {change.address}", name), ""),
        (" ", ""),
        (fit(old_words(change), side, right=True), ""),
        ("  -> ", ""),
        (fit(new_words(change), side, right=True), "pencil"),
        ("  ", ""),
        (fit(difference(change.old, change.new, change.delta, change.unit), max(gap, 8)), "strong"),
    )
