"""The document that is edited: what was loaded of it, and where one stands in it.

Invariant: what is painted is what the engine said last; nothing is shown as
pencilled before the journal has it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from schemas.errors import WitnessmarkError
from tui.screens.editor.columns import Typed, items_of
from tui.screens.editor.contents import Contents, Field, with_extra
from tui.widgets.finder import Finding
from tui.widgets.page import Page

if TYPE_CHECKING:
    from engine.views import Draft


class EditedDocument:
    """What modes and acts work on. They ask and tell through its page."""

    def __init__(
        self, page: Page, name: str, address: str, finder: Finding, changed: Callable[[], None]
    ) -> None:
        self.page = page
        self.name = name
        self.contents: Contents | None = None
        self.fields: list[Field] = []
        self.typed: Typed | None = None  # the value that is being typed
        self.extra: Field | None = None  # a value that is being added
        self.trail: list[str] = []  # addresses of the last changes still to visit
        self.finder = finder
        self._wished = address  # where to stand once the lines are there
        self._changed = changed  # told when there is other pencil

    def show(self, contents: Contents) -> None:
        """Show what was loaded."""
        self.contents = contents
        self.redraw()
        self.page.show_frame()
        if self._wished:
            self.goto(self._wished)
            self._wished = ""
        self.page.chosen()

    def show_drafts(self, drafts: Sequence[Draft]) -> None:
        """Show pencil that changed; inked values stay."""
        assert self.contents is not None
        known = {row.address for row in self.contents.rows}
        self.contents = replace(self.contents, drafts=drafts)
        self.redraw()
        self.page.chosen()
        self._changed()
        if any(mark.address not in known for draft in drafts for mark in draft.marks):
            self.page.load()

    def redraw(self) -> None:
        """Make the lines anew; only those that differ are painted."""
        if self.contents is None:
            return
        self.fields = with_extra(self.contents.fields(self.page.bench.me.key), self.extra)
        shown = [f for f in self.fields if self.finder.has(f"{f.address} {f.label}")]
        lines, under = self.page.lines, self.page.lines.under
        lines.show(items_of(shown, self.typed))
        if self.typed is not None:  # its choices, or why it was refused, are still to be read
            lines.push_under(under)

    def refuse(self, error: WitnessmarkError) -> None:
        """A refusal in words under the line; the typed text stays."""
        self.page.lines.push_under(self.page.under_rows(error, indent=5))

    def may_write(self) -> bool:
        """Whether this person may pencil; says why not."""
        if self.page.bench.me.may_ink:
            return True
        self.page.tell("Read only: only a setter or a lead who is known here can change a value.")
        return False

    # Standing somewhere

    def field(self, address: object) -> Field | None:
        """The value at an address, where there is a line for it."""
        return next((each for each in self.fields if each.address == address), None)

    def current(self) -> Field | None:
        """The value of the chosen line."""
        return self.field(self.page.lines.key)

    def mine(self) -> list[Field]:
        """The values on which there is pencil of mine."""
        return [each for each in self.fields if each.mine is not None]

    def contested(self) -> bool:
        """Whether somebody else's ink has overtaken pencil of mine."""
        return any(each.sign == "!" for each in self.fields)

    def goto(self, address: str) -> None:
        """Stand on an address, or on the first one below it."""
        self.finder.clear()
        lines = self.page.lines
        if lines.choose(address):
            return
        below = next((f.address for f in self.fields if f.address.startswith(f"{address}.")), "")
        if not below or not lines.choose(below):
            self.page.tell(f"{address} has no line here")
