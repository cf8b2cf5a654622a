"""A record as lines of the editor: the inked value, the pencilled one, the difference.

Invariant: every value shows both what is inked and what is pencilled, side by
side, and a sign in the margin says whose pencil it is: `~` mine, `:` somebody
else's, `!` mine and contested. Colour repeats it and says nothing by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from schemas.address import Value, lies_in, show
from tui.safe import fit
from tui.screens.words import difference, unit_word
from tui.widgets.entry import Entry
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow, StyledText

if TYPE_CHECKING:
    from engine.book.layout import FieldRow
    from engine.views import Draft, OnDisk, Pencilled


@dataclass(frozen=True, slots=True)
class Field:
    """One value of the record as the editor shows it."""

    address: str
    label: str
    unit: str
    kind: str
    inked: Value | None
    mine: Pencilled | None = None
    others: tuple[Pencilled, ...] = ()

    @property
    def sign(self) -> str:
        """The sign in the margin."""
        if self.mine is not None:
            return "!" if self.mine.contested else "~"
        return ":" if self.others else " "

    @property
    def pencil(self) -> Pencilled | None:
        """The pencil that is shown: mine before others'."""
        return self.mine or (self.others[0] if self.others else None)

    @property
    def value(self) -> Value | None:
        """What I would see as the present value: my pencil, else what is inked."""
        return self.mine.value if self.mine is not None else self.inked


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that the editor shows of one document, loaded at once."""

    name: str
    rows: Sequence[FieldRow]
    inked: dict[str, Value]
    drafts: Sequence[Draft]
    disk: OnDisk | None = None

    def fields(self, me: str) -> list[Field]:
        """Every value in the order of the layout; pencil at new addresses comes last."""
        marks: dict[str, list[Pencilled]] = {}
        for draft in self.drafts:
            for mark in draft.marks:
                marks.setdefault(mark.address, []).append(mark)
        found = []
        for row in self.rows:
            if row.address == "format":  # of the file, not of the job
                continue
            pencil = marks.pop(row.address, [])
            found.append(self._field(row.address, row.label, row.unit, row.kind, pencil, me))
        for address, pencil in marks.items():
            label = address.rpartition(".")[2].replace("_", " ")
            found.append(self._field(address, label, pencil[0].unit, "text", pencil, me))
        return found

    def _field(
        self, address: str, label: str, unit: str, kind: str, pencil: list[Pencilled], me: str
    ) -> Field:
        mine = next((m for m in pencil if me and m.who.key == me), None)
        others = tuple(m for m in pencil if m is not mine)
        return Field(address, label, unit, kind, self.inked.get(address), mine, others)


@dataclass(slots=True)
class Typing:
    """A value that is being typed: where, and the text so far."""

    address: str
    entry: Entry
    choices: tuple[str, ...] = ()


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


def items_of(fields: Sequence[Field], typing: Typing | None) -> list[Item]:
    """The lines of the editor: headings where section or group change, then values."""
    items: list[Item] = []
    group = ""
    for each in fields:
        if group_of(each.address) != group:
            group = group_of(each.address)
            if items:
                items.append(fixed(("space", group), (), heading=True))
            items.append(fixed(("group", group), ((group_title(group), "heading"),), heading=True))
        items.append(Item(each.address, _drawer(each, typing)))
    return items


def with_extra(fields: list[Field], extra: Field | None) -> list[Field]:
    """The fields with one that is being added, next to those it belongs with."""
    if extra is None:
        return fields
    for table in (group_of(extra.address), extra.address.partition(".")[0]):
        places = [n for n, each in enumerate(fields) if lies_in(each.address, table)]
        if places:
            return [*fields[: places[-1] + 1], extra, *fields[places[-1] + 1 :]]
    return [*fields, extra]


def group_of(address: str) -> str:
    """The table that an address lies in: `jaws`, `positions.seat`."""
    return address.rpartition(".")[0]


def group_title(group: str) -> str:
    """A group's heading: `jaws`, `positions: seat`."""
    section, _, rest = group.partition(".")
    text = section.replace("_", " ") or "general"
    return f"{text}: {rest}" if rest else text


def _drawer(each: Field, typing: Typing | None) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        if typing is not None and typing.address == each.address:
            return [_typing_row(each, typing.entry, width)]
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
    shown = "nothing" if pencil.value is None else show(pencil.value)
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


def next_group(fields: Sequence[Field], key: Hashable | None, by: int) -> str | None:
    """The first address below the next or previous heading; None at the end."""
    starts = [
        n
        for n, each in enumerate(fields)
        if n == 0 or group_of(each.address) != group_of(fields[n - 1].address)
    ]
    place = next((n for n, each in enumerate(fields) if each.address == key), 0)
    if by > 0:
        return next((fields[n].address for n in starts if n > place), None)
    return next((fields[n].address for n in reversed(starts) if n < place), None)
