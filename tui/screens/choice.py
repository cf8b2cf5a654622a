"""A question with a few answers, each with its letter.

Invariant: nothing happens without a key of its own; Esc decides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tui.widgets.keys import BACK, MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import Page
from tui.widgets.prose import paragraph


@dataclass(frozen=True, slots=True)
class Option:
    """One answer."""

    letter: str
    text: str


class Choice(Page):
    """Asks; its answer is the letter of an option, or None."""

    KEYS = (
        key("Enter", "take the chosen answer", "take the chosen answer", "take"),
        PageKey((), "a letter", "answers at once", "", ""),
    )

    def __init__(
        self,
        title: str,
        text: Sequence[tuple[str, str] | Item],
        options: Sequence[Option],
        back: str = "decide nothing now",
    ) -> None:
        super().__init__()
        self._title = title
        self._text = text
        self._options = options
        self._back = back

    def heading(self) -> str:
        """What is asked."""
        return self._title

    def load(self) -> None:
        """The question and its answers."""
        items: list[Item] = []
        for number, part in enumerate(self._text):
            items.append(part if isinstance(part, Item) else paragraph(number, *part))
        items.append(paragraph(-1, ""))
        for option in self._options:
            row = (("  ", ""), (option.letter, "strong"), (f"   {option.text}", ""))
            items.append(fixed(("option", option.letter), row))
        self.lines.show(items)

    def live_keys(self) -> tuple[PageKey, ...]:
        """Letters work, too."""
        letters = [key(o.letter, "", o.text, f"take_{o.letter}") for o in self._options]
        back = key("Esc", self._back, self._back, "back")
        assert back.press == BACK.press
        return (*self.KEYS, *letters, back, *MOVING)

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
