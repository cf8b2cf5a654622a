"""Pencil that somebody else's ink has overtaken: both values, both names.

Invariant: the engine picks no winner and neither does this page; to decide
later is always possible and changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import ago, difference, with_unit
from tui.screens.choice import Choice, Option
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.views import Pencilled


def contest_of(marks: Sequence[Pencilled], now: datetime, width: int) -> Choice:
    """The question, with every contested value."""
    names = ", ".join(dict.fromkeys(m.contested.name for m in marks if m.contested))
    text: list[tuple[str, str] | Item] = [
        (
            f"{names} inked the same, or values that belong together with yours, after you "
            "took up the pencil. Nothing of either was lost.",
            "",
        ),
        ("", ""),
    ]
    text += [_item(mark, now) for mark in marks]
    options = [
        Option("m", "mine: keep my pencil, on top of what was inked meanwhile"),
        Option("t", "theirs: rub out my pencil on these values (b brings it back)"),
    ]
    return Choice("Contested pencil", text, options, back="decide later")


def _item(mark: Pencilled, now: datetime) -> Item:
    theirs = mark.contested.name if mark.contested else ""
    change = difference(mark.inked, mark.value, mark.delta, mark.unit)
    label = max(len(theirs), 4) + 2
    rows: tuple[StyledRow, ...] = (
        (("  ! ", "contested"), (mark.address, "strong"), (f"   {change}", "")),
        (
            ("      in ink     ", ""),
            (f"{theirs:{label}}", ""),
            (with_unit(mark.inked, mark.unit), "strong"),
        ),
        (
            ("      in pencil  ", ""),
            (f"{'you':{label}}", ""),
            (with_unit(mark.value, mark.unit), "pencil"),
            (f"   {ago(mark.at, now)}", ""),
        ),
    )
    return fixed(("mark", mark.address), *rows, heading=True)
