"""The lines of the editor: label, inked value, pencilled value, unit, difference.

Invariant: every value shows both what is inked and what is pencilled, side by
side, with its sign in the margin. Colour repeats it and says nothing by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from engine.views.wording import difference, unit_word, value_words
from schemas.address import show
from tui.safe import fit
from tui.screens.editor.contents import Field, group_of, group_title
from tui.widgets.entry import Entry
from tui.widgets.lines import Item, fixed
from tui.widgets.mode import Mode
from tui.widgets.paint import StyledRow, StyledText


@dataclass(frozen=True, slots=True)
class Typed:
    """Where a value is being typed, and the mode that has its text."""

    address: str
    mode: Mode


@dataclass(slots=True)
class Columns:
    """Where the columns of the editor stand, for a width."""

    width: int
    label: int = field(init=False)
    side: int = field(init=False)
    change: int = field(init=False)

    def __post_init__(self) -> None:
        spare = max(self.width - 80, 0)
        self.label = 21 + min(spare // 5, 14)
        self.side = 15 + min(spare // 4, 10)
        self.change = max(self.width - 3 - self.label - 2 * self.side - 4 - 7, 8)


def head_row(width: int) -> StyledRow:
    """The headings of the columns."""
    c = Columns(width)
    return (
        (" " * (3 + c.label), ""),
        (fit("in ink", c.side, right=True), "strong"),
        ("  ", ""),
        (fit("in pencil", c.side, right=True), "strong"),
        (f"  {'unit':7}", ""),
        ("difference", ""),
    )


def items_of(fields: Sequence[Field], typed: Typed | None) -> list[Item]:
    """The lines of the editor: headings where section or group change, then values."""
    items: list[Item] = []
    group = ""
    for each in fields:
        if group_of(each.address) != group:
            group = group_of(each.address)
            if items:
                items.append(fixed(("space", group), (), heading=True))
            items.append(fixed(("group", group), ((group_title(group), "heading"),), heading=True))
        items.append(Item(each.address, _drawer(each, typed)))
    return items


def _drawer(each: Field, typed: Typed | None) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        if typed is not None and typed.address == each.address:
            return [_typing_row(each, typed.mode.entry, width)]
        return [field_row(each, width)]

    return draw


def field_row(each: Field, width: int) -> StyledRow:
    """One value in a line."""
    c = Columns(width)
    style = {"~": "pencil", ":": "theirs", "!": "contested"}.get(each.sign, "")
    start: tuple[StyledText, ...] = (
        (f" {each.sign} ", style or "strong"),
        (fit(each.label, c.label), ""),
    )
    pencil = each.pencil
    if pencil is None:
        return (*start, *_inked_alone(each, c))
    shown = value_words(pencil.value)
    change = difference(each.inked, pencil.value, pencil.delta, pencil.unit or each.unit)
    return (
        *start,
        (_cell(show(each.inked), each.kind, c.side), ""),
        ("  ", ""),
        (_cell(shown, each.kind, c.side), style),
        ("  ", ""),
        (fit(unit_word(each.unit), 7), ""),
        (fit(change, c.change), "strong"),
    )


def _inked_alone(each: Field, c: Columns) -> tuple[StyledText, ...]:
    """Without pencil, a long text may run on into the free columns."""
    text = show(each.inked) if each.inked is not None else "-"
    unit = fit(unit_word(each.unit), 7)
    if each.kind in _NUMBERS or len(text) <= c.side:
        blank = " " * (c.side + 4)
        return ((_cell(text, each.kind, c.side), ""), (blank, ""), (unit, ""))
    return ((fit("  " + text, 2 * c.side + 11 + c.change), ""),)


def _typing_row(each: Field, entry: Entry, width: int) -> StyledRow:
    """The value while it is typed: the inked one stays in sight."""
    c = Columns(width)
    long = each.kind in ("text", "list") or len(entry.text) >= c.side
    room = c.side + 7 + c.change if long else c.side
    return (
        (f">{each.sign} ", "strong"),
        (fit(each.label, c.label), "strong"),
        (_cell(show(each.inked) if each.inked is not None else "-", each.kind, c.side), ""),
        ("  ", ""),
        *entry.pieces(room),
        ("" if long else f"  {fit(unit_word(each.unit), 7)}", ""),
    )


_NUMBERS = ("number", "whole")


def _cell(text: str, kind: str, width: int) -> str:
    """Numbers and short words stand at the right, so that digits meet in a column."""
    return fit(text, width, right=True)
