"""A question with a few answers, each with its letter.

Invariant: an answer that decides or destroys is chosen with its letter and given with
Enter (`Choice`). Only where the answer opens a page to be read, or leads to a page
that asks again, is it given by the letter alone (`Menu`). Esc decides nothing.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from tui.widgets.deciding import DecidingPage
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import Page
from tui.widgets.prose import paragraph


@dataclass(frozen=True, slots=True)
class Option:
    """One answer."""

    letter: str
    text: str


class Choice(DecidingPage):
    """Asks; its answer is the letter of an option, or None."""

    def __init__(
        self,
        title: str,
        text: Sequence[tuple[str, str] | Item],
        options: Sequence[Option],
        back: str = "decide nothing now",
    ) -> None:
        super().__init__(back)
        self._title = title
        self._text = text
        self._options = options

    def heading(self) -> str:
        """What is asked."""
        return self._title

    def list_choices(self) -> list[Item]:
        """The question and its answers."""
        return [*_items(self._text, self._options), self.nothing_chosen()]

    def letters(self) -> Mapping[str, Hashable]:
        """Each option's own."""
        return {option.letter: ("option", option.letter) for option in self._options}

    def in_words(self, chosen: Hashable) -> str:
        """The option's text."""
        return next(o.text for o in self._options if chosen == ("option", o.letter))

    def carry_out(self, chosen: Hashable) -> None:
        """Answer with its letter."""
        assert isinstance(chosen, tuple)
        self.dismiss(chosen[1])


class Menu(Page):
    """Asks what to look at; a letter answers at once, with itself."""

    KEYS = (
        key("Enter", "take the chosen answer", "take the chosen answer", "take"),
        PageKey((), "a letter", "answers at once", "", ""),
    )

    def __init__(
        self, title: str, text: Sequence[tuple[str, str] | Item], options: Sequence[Option]
    ) -> None:
        super().__init__()
        self._title = title
        self._text = text
        self._options = options

    def heading(self) -> str:
        """What is asked."""
        return self._title

    def load(self) -> None:
        """The question and its answers."""
        self.lines.show(_items(self._text, self._options))

    def do_key(self, pressed: str, character: str | None) -> None:
        """A letter answers at once."""
        if any(option.letter == character for option in self._options):
            self.dismiss(character)
        else:
            super().do_key(pressed, character)

    def do_take(self) -> None:
        """Answer with the chosen option."""
        if isinstance(self.lines.key, tuple):
            self.dismiss(self.lines.key[1])


def _items(text: Sequence[tuple[str, str] | Item], options: Sequence[Option]) -> list[Item]:
    items: list[Item] = []
    for number, part in enumerate(text):
        items.append(part if isinstance(part, Item) else paragraph(number, *part))
    items.append(paragraph(-1, ""))
    for option in options:
        row = (("  ", ""), (option.letter, "strong"), (f"    {option.text}", ""))
        items.append(fixed(("option", option.letter), row))
    return items
