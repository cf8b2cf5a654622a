"""A document's values: the inked one, and everybody's pencil on it.

Invariant: a sign says whose pencil it is: `~` mine, `:` somebody else's, `!` mine and
contested. Nothing is pencil before the journal has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from schemas.address import Value, lies_in

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Draft, FieldRow, OnDisk, Pencilled
    from tui.screens.subject import Subject


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
class Contents:
    """All that the editor shows of one document, loaded at once."""

    name: str
    rows: Sequence[FieldRow]
    inked: dict[str, Value]
    drafts: Sequence[Draft]
    disk: OnDisk | None = None
    named_by: str = ""  # who gave it this name since it was last looked at
    retired_by: str = ""  # who took it out of the list, where somebody did

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
            unit = pencil[0].unit
            found.append(self._field(address, label_of(address), unit, "text", pencil, me))
        return found

    def _field(
        self, address: str, label: str, unit: str, kind: str, pencil: list[Pencilled], me: str
    ) -> Field:
        mine = next((m for m in pencil if me and m.who.key == me), None)
        others = tuple(m for m in pencil if m is not mine)
        return Field(address, label, unit, kind, self.inked.get(address), mine, others)


def contents_of(book: Book, subject: Subject, called: str) -> Contents:
    """All that the editor shows of a document, which it showed as `called` before."""
    document = subject.of(book)
    disk, name, values = document.on_disk.found(), document.name, document.values()
    named = document.past.named_by() if called and name != called else None
    retired = document.past.trace("record.retired") if values.get("record.retired") else []
    return Contents(
        name,
        document.layout(),
        values,
        document.drafts(),
        disk=disk,
        named_by=named.who.name if named else "",
        retired_by=retired[-1].who.name if retired else "",
    )


def news_of(before: Contents, now: Contents) -> str:
    """What became of the whole document between two looks, in words; empty where nothing did."""
    words = []
    if before.name != now.name:
        words.append(f"{before.name} was renamed to {now.name} by {now.named_by or 'somebody'}.")
    if now.retired_by and not before.retired_by:
        words.append(
            f"{now.retired_by} retired it. Your pencil is kept; `witnessmark retire {now.name} "
            "--back` lists it again."
        )
    return " ".join(words)


def label_of(address: str) -> str:
    """How a value is called that has no line in the layout."""
    return address.rpartition(".")[2].replace("_", " ")


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
