"""Going back to an older value, section or record: a new ink, with a reason.

Invariant: nothing is rewritten; what will change is listed before it is done.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views.wording import count
from schemas.address import lies_in
from tui.screens.changes import change_row
from tui.screens.choice import Choice, Option
from tui.screens.reason import ReasonPage
from tui.widgets.lines import Item
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from engine.book import Book
    from engine.views import Change, Comparison, Inked, Mark
    from tui.widgets.paint import StyledRow


def how_much(mark: Mark, address: str) -> tuple[Choice, dict[str, str]]:
    """The question how much to restore, and the address that each answer stands for."""
    options = [Option("w", "the whole record")]
    addresses = {"w": ""}
    keys = address.split(".") if address else []
    for letter, length, word in (("s", 1, "section"), ("g", 2, "group"), ("v", len(keys), "value")):
        part = ".".join(keys[:length])
        if part and length <= len(keys) and part not in addresses.values():
            last = length == len(keys)
            options.append(
                Option("v" if last else letter, f"the {'value' if last else word} {part}")
            )
            addresses["v" if last else letter] = part
    text = (
        f"What is to be as it was at {mark.name}? It becomes a new ink; nothing in the "
        "past is rewritten. The value is the one you stood on in the editor."
    )
    return Choice(
        f"Restore from {mark.name}", [(text, "")], options, back="restore nothing"
    ), addresses


class Restore(ReasonPage):
    """Lists what would change, asks why, and restores."""

    VERB = "restore"

    def __init__(self, name: str, mark: Mark, address: str) -> None:
        super().__init__(name)
        self._mark = mark
        self._address = address

    def heading(self) -> str:
        """What goes back to what."""
        return f"Restore {self._address or self.name_of_record} from {self._mark.name}"

    def load(self) -> None:
        """What differs between now and then."""
        name, mark = self.name_of_record, self._mark.name
        self.ask_to_show(
            "comparing", lambda book: book.document(name).past.compare("now", mark), self._show
        )

    def _show(self, comparison: Comparison) -> None:
        found = [
            change
            for change in comparison.changes
            if not self._address or lies_in(change.address, self._address)
        ]
        if comparison.unreadable:
            self.about.say((" What would change cannot be listed:", ""))
            said = [paragraph(n, text) for n, text in enumerate(comparison.unreadable)]
            self.show_changes(said, needed=True)
            return
        if not found:
            self.begin(None)
            self.lines.show([paragraph(0, "It is now as it was then: nothing to restore.")])
            return
        self.about.say((f" {count(len(found), 'value')} would change, now -> then:", ""))
        self.show_changes([Item(c.address, _drawer(c)) for c in found], needed=True)

    def act(self, book: Book, reason: str) -> Inked:
        """Restore it."""
        return book.document(self.name_of_record).restore(self._mark.name, self._address, reason)


def _drawer(change: Change) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        return [change_row(change, width)]

    return draw
