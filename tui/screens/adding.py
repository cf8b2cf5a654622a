"""Adding a value that has no line yet: its address first, then its value.

Invariant: an address that nothing can stand at is refused in words, and stays
typed; nothing is added before its value is in pencil.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.errors import ValueRefused, WitnessmarkError
from tui.screens.pencilling import PencillingPage
from tui.screens.sheet import Field
from tui.widgets.entry import Entry
from tui.widgets.keys import PageKey, key

if TYPE_CHECKING:
    from engine.book import Book
    from schemas.fields import Described

_WHILE_ADDING = (
    key("Enter", "type its value", "", ""),
    key("Esc", "add nothing", "", ""),
)


class AddingPage(PencillingPage):
    """A document to which values can be added."""

    def __init__(self, name: str, address: str = "") -> None:
        super().__init__(name, address)
        self.adding = False

    def live_keys(self) -> tuple[PageKey, ...]:
        """Other keys while an address is typed."""
        return _WHILE_ADDING if self.adding else super().live_keys()

    def do_add(self) -> None:
        """Ask for the address, beginning with the table one stands in."""
        if not self.may_write():
            return
        each = self.current()
        section = each.address.partition(".")[0] if each else ""
        self.adding, self.entry = True, Entry(f"{section}." if section else "")
        self._show_adding()

    def _show_adding(self) -> None:
        self.status.say(*self.entry_row("address of the new value"))
        self.show_keys()

    def typed(self) -> None:
        """Show the typed address."""
        if self.adding:
            self.lines.push_under(())
            self._show_adding()
        else:
            super().typed()

    def accept(self) -> None:
        """Look the address up, then type its value."""
        if not self.adding:
            super().accept()
            return
        assert self.entry is not None
        name, address = self.name_of_record, self.entry.text.strip()
        self.ask(
            "looking up",
            lambda book: _described(book, name, address),
            self._begin_adding,
            failed=self._refuse_address,
            hold=True,
        )

    def _refuse_address(self, error: WitnessmarkError) -> None:
        self.lines.push_under(self.under_rows(error, indent=5))

    def _begin_adding(self, described: Described) -> None:
        self.adding, self.entry = False, None
        each = next((f for f in self.fields if f.address == described.address), None)
        if each is None:
            label = described.address.rpartition(".")[2].replace("_", " ")
            each = Field(described.address, label, described.unit, described.kind, None)
            self.extra = each
        self.clear_wanted()
        self.redraw()
        self.begin(each, "", described.choices)

    def drop(self) -> None:
        """Add nothing."""
        if not self.adding:
            super().drop()
            return
        self.adding, self.entry = False, None
        self.lines.push_under(())
        self.tell("")
        self.show_keys()


def _described(book: Book, name: str, address: str) -> Described:
    described = book.describe(name, address)
    if described is None or described.kind == "table":
        hint = "Addresses are written as tools.T05.what; ? lists the fields there are."
        raise ValueRefused(f"no value can stand at {address!r}", hint=hint)
    return described
