"""Who is there, where the login does not tell.

Invariant: nobody is guessed. Without a choice the book is read only.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from tui.widgets.keys import HELP, MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import Page
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from schemas.people import Person

READER = ""


class WhoIsThere(Page):
    """Asks who is at the screen; its answer is a key of people.toml, or READER."""

    KEYS = (key("Enter", "that is me", "work as the chosen person", "take"),)

    def __init__(self, persons: Mapping[str, Person]) -> None:
        super().__init__()
        self._persons = persons

    def heading(self) -> str:
        """The question."""
        return f"{self.bench.book_name}: who are you?"

    def heading_right(self) -> tuple[str, ...]:
        """Nobody yet."""
        return ()

    def load(self) -> None:
        """The people, and nobody."""
        ask = (
            "The login does not tell who you are. What you change is kept under the name "
            "you choose."
        )
        items: list[Item] = [paragraph(0, ask), paragraph(1, "")]
        for number, (name, one) in enumerate(self._persons.items(), 1):
            label = f"  {number if number < 10 else ' '}  "
            row = ((label, "strong"), (one.name, "strong"), (f"   {', '.join(one.roles)}", ""))
            items.append(fixed(name, row))
        items.append(fixed(READER, (("  0  ", "strong"), ("nobody: read only", ""))))
        self.lines.show(items)

    def live_keys(self) -> tuple[PageKey, ...]:
        """There is no way back from here but leaving."""
        leave = key("q", "leave", "leave the program", "leave")
        return (*self.KEYS, key("0-9", "choose", "choose by number", ""), leave, HELP, *MOVING)

    def do_key(self, pressed: str, character: str | None) -> None:
        """A number answers at once."""
        if character and character.isdecimal() and character.isascii():
            keys = [READER, *self._persons]
            if int(character) < len(keys):
                self.dismiss(keys[int(character)])
        else:
            super().do_key(pressed, character)

    def do_take(self) -> None:
        """Answer with the chosen person."""
        self.dismiss(self.lines.key)

    def do_leave(self) -> None:
        """Leave the program."""
        self.app.exit(0)
