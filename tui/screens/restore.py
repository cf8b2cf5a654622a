"""Going back to an older value, section or record: a new ink, with a reason.

Invariant: nothing is rewritten; what will change is listed before it is done.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from engine.views.wording import count
from schemas.address import lies_in
from tui.screens.changes import change_row
from tui.screens.choice import Menu, Option
from tui.screens.reason import ReasonPage
from tui.screens.subject import Subject
from tui.widgets.lines import Item
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from engine.book import Book
    from engine.views import Change, Comparison, Inked, Mark
    from tui.widgets.paint import StyledRow


def how_much(mark: Mark, address: str) -> tuple[Menu, dict[str, str]]:
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
    return Menu(f"Restore from {mark.name}", [(text, "")], options), addresses


class Restore(ReasonPage):
    """Lists what would change, asks why, and restores."""

    VERB, DOING = "restore", "restoring"

    def __init__(self, subject: Subject, mark: Mark, address: str) -> None:
        super().__init__(subject)
        self._mark = mark
        self._address = address
        self._listed: tuple[Change, ...] = ()

    def heading(self) -> str:
        """What goes back to what."""
        return f"Restore {self._address or self.name_of_record} from {self._mark.name}"

    def load(self) -> None:
        """What differs between now and then."""
        self.ask_to_show("comparing", self._look, self._show)

    def _look(self, book: Book) -> Comparison:
        found = self.subject.of(book).past.compare("now", self._mark.name)
        within = [c for c in found.changes if lies_in(c.address, self._address)]
        return replace(found, changes=tuple(within)) if self._address else found

    def _show(self, comparison: Comparison) -> None:
        self._listed, found = comparison.changes, comparison.changes
        if comparison.unreadable:
            self.about.say((" What would change cannot be listed:", "error"))
            texts = enumerate(comparison.unreadable)
            self.show_changes([paragraph(n, text) for n, text in texts], needed=True)
            return
        if not found:
            self.begin(None)
            self.lines.show([paragraph(0, "It is now as it was then: nothing to restore.")])
            return
        self.about.say((f" {self._words(len(found))}:", ""))
        self.show_changes([Item(c.address, _drawer(c)) for c in found], needed=True)

    def _words(self, values: int) -> str:
        return f"{count(values, 'value')} would change, now -> then"

    def differs(self, book: Book) -> bool:
        """Whether somebody inked meanwhile what would go back."""
        return self._look(book).changes != self._listed

    def act(self, book: Book, reason: str) -> Inked:
        """Restore it."""
        return self.subject.of(book).restore(self._mark.name, self._address, reason)


class BringBack(Restore):
    """The same for what is in the book no more: as it stood last, whole."""

    VERB, DOING = "bring back", "bringing back"

    def __init__(self, subject: Subject, last: Mark) -> None:
        super().__init__(subject, last, "")

    def heading(self) -> str:
        """What comes back."""
        return f"Bring back {self.name_of_record} as it stood last"

    def _words(self, values: int) -> str:
        return f"{count(values, 'value comes', 'values come')} back"


def _drawer(change: Change) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        return [change_row(change, width)]

    return draw
