"""Who is there, where the login does not tell.

Invariant: nobody is guessed, and nobody is chosen by a key that was typed before the
names were seen. Without a choice the book is read only.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING

from tui.widgets.deciding import DecidingPage
from tui.widgets.keys import HELP, MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from schemas.people import Person

READER = ""


class WhoIsThere(DecidingPage):
    """Asks who is at the screen; its answer is a key of people.toml, or READER."""

    ENTER = "that is me"
    UNDECIDED = "Nobody is chosen yet: press a number, then Enter. Enter alone: read only."
    NOTHING = READER

    def __init__(self, persons: Mapping[str, Person]) -> None:
        super().__init__("")
        self._persons = persons

    def heading(self) -> str:
        """The question."""
        return f"{self.bench.book_name}: who are you?"

    def heading_right(self) -> tuple[str, ...]:
        """Nobody yet."""
        return ()

    def list_choices(self) -> list[Item]:
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
        return [*items, fixed(READER, (("  0  ", "strong"), ("nobody: read only", "")))]

    def letters(self) -> Mapping[str, Hashable]:
        """The first nine have a number."""
        return {str(number): name for number, name in enumerate([READER, *self._persons][:10])}

    def in_words(self, chosen: Hashable) -> str:
        """Who one would be."""
        return f"you are {self._persons[str(chosen)].name}" if chosen else "nobody: read only"

    def live_keys(self) -> tuple[PageKey, ...]:
        """There is no way back from here but leaving."""
        me = key("Enter", self.ENTER, "work as the chosen person", "take")
        number = key("0-9", "choose", "choose by number; Enter takes it", "")
        return (me, number, key("q", "leave", "leave the program", "leave"), HELP, *MOVING)

    def carry_out(self, chosen: Hashable) -> None:
        """Answer with the chosen person."""
        self.dismiss(chosen)

    def decide_nothing(self) -> None:
        """To be nobody is an answer, too."""
        self.dismiss(READER)

    def do_back(self) -> None:
        """Nobody goes back from here; Esc chooses nobody."""
        self.lines.choose(READER)

    def do_leave(self) -> None:
        """Leave the program."""
        self.app.exit(0)
