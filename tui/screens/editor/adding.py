"""Adding a value that has no line yet: its address first, then its value.

Invariant: an address that nothing can stand at is refused in words, and stays
typed; nothing is added before its value is in pencil.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.errors import ValueRefused
from tui.screens.editor.contents import Field, label_of
from tui.screens.editor.document import EditedDocument
from tui.screens.editor.typing_value import begin
from tui.widgets.keys import key
from tui.widgets.mode import Mode

if TYPE_CHECKING:
    from engine.book import DocumentHandle
    from schemas.fields import Described


class AddingAddress(Mode):
    """The address of a new value is typed."""

    KEYS = (key("Enter", "type its value", "", ""), key("Esc", "add nothing", "", ""))

    def __init__(self, document: EditedDocument, text: str) -> None:
        super().__init__(text)
        self._document = document

    def show(self) -> None:
        """The line that is typed in."""
        page = self._document.page
        page.status.say(*self.entry.row("address of the new value", page.app.size.width))

    def typed(self) -> None:
        """Show the typed address; a refusal of what stood there before goes."""
        self._document.page.lines.push_under(())
        self.show()

    def accept(self) -> None:
        """Look the address up, then type its value."""
        document, address = self._document, self.entry.text.strip()
        document.page.ask(
            "looking up",
            lambda book: _described(document.subject.of(book), address),
            self._found,
            failed=document.refuse,
            hold=True,
        )

    def _found(self, described: Described) -> None:
        document, address = self._document, described.address
        each = document.field(address)
        if each is None:
            each = Field(address, label_of(address), described.unit, described.kind, None)
            document.extra = each
        document.finder.clear()
        document.redraw()
        begin(document, each, "", described.choices)

    def drop(self) -> None:
        """Add nothing."""
        page = self._document.page
        page.lines.push_under(())
        page.tell("")
        page.begin(None)


def add(document: EditedDocument) -> None:
    """Ask for the address, beginning with the table one stands in."""
    if not document.may_write():
        return
    each = document.current()
    mode = AddingAddress(document, f"{each.address.partition('.')[0]}." if each else "")
    mode.show()
    document.page.begin(mode)


def _described(asked: DocumentHandle, address: str) -> Described:
    described = asked.describe(address)
    if described is None or described.kind == "table":
        hint = "Addresses are written as tools.T05.what; ? lists the fields there are."
        raise ValueRefused(f"no value can stand at {address!r}", hint=hint)
    return described
