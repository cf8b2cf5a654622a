"""The meaning of the field at hand, all keys of the page, and all fields.

Invariant: typing narrows what is listed to lines that have every typed word.
Enter on a field goes to it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from tui.safe import fit, wrap
from tui.widgets.entry import Entry
from tui.widgets.keys import MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph
from tui.widgets.typing_page import TypingPage


@dataclass(frozen=True, slots=True)
class Explained:
    """A field as the help lists it."""

    address: str
    meaning: str
    unit: str


class Help(TypingPage):
    """Help that filters. Its answer is an address to go to, or None."""

    def __init__(
        self,
        title: str,
        keys: Sequence[PageKey],
        about: Sequence[tuple[str, str]] = (),
        fields: Sequence[Explained] = (),
    ) -> None:
        super().__init__()
        self._title = title
        self._keys = [k for k in keys if k.meaning]
        self._about = about
        self._fields = list(fields)

    def heading(self) -> str:
        """What the help is about."""
        return f"Help: {self._title}"

    def live_keys(self) -> tuple[PageKey, ...]:
        """Letters are typed here, so no letter is a key."""
        go = (key("Enter", "go to the chosen field", "", "take"),) if self._fields else ()
        find = PageKey((), "a word", "to find", "", "")
        return (find, *go, key("Esc", "close", "", "back"), *MOVING)

    def load(self) -> None:
        """List what has the typed words."""
        words = self.text.lower().split()
        items: list[Item] = []
        if not words:
            items += [paragraph(n, *part) for n, part in enumerate(self._about)]
        keys = [k for k in self._keys if _has(f"{k.label} {k.word} {k.meaning}", words)]
        if keys:
            items.append(_head("Keys"))
            items += [fixed(("key", n), _key_row(k)) for n, k in enumerate(keys)]
        found = [f for f in self._fields if _has(f"{f.address} {f.meaning} {f.unit}", words)]
        if found:
            items.append(_head("Fields"))
            items += [Item(f.address, _drawer(f)) for f in found]
        if not items:
            items.append(paragraph(0, "Nothing here has these words."))
        self.lines.show(items, key=_first(items))
        self.status.say(*self.line_row("find"))

    def typed(self) -> None:
        """Narrow the list."""
        self.load()

    def accept(self) -> None:
        """Go to the chosen field."""
        if isinstance(self.lines.key, str):
            self.dismiss(self.lines.key)

    def drop(self) -> None:
        """Close; a first Esc clears what was typed."""
        if self.line.entry.text:
            self.line.entry = Entry()
            self.load()
        else:
            self.dismiss(None)


def _first(items: Sequence[Item]) -> Hashable | None:
    return next((item.key for item in items if not item.heading), None)


def _has(text: str, words: Sequence[str]) -> bool:
    text = text.lower().replace("_", " ") + " " + text.lower()
    return all(word in text for word in words)


def _head(text: str) -> Item:
    return fixed(f"head {text}", (), ((f" {text}", "heading"),), heading=True)


def _key_row(each: PageKey) -> StyledRow:
    return (("   ", ""), (fit(each.label, 10), "strong"), (each.meaning, ""))


def _drawer(field: Explained) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        name = 30 if width < 120 else 44
        unit = f"  [{field.unit}]" if field.unit else ""
        lines = wrap(field.meaning + unit, max(width - name - 5, 20))
        first: StyledRow = (("   ", ""), (fit(field.address, name), "strong"), (f" {lines[0]}", ""))
        return [first, *(((" " * (name + 4), ""), (line, "")) for line in lines[1:])]

    return draw
