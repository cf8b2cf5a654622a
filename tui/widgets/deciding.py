"""A page on which something is decided, or leaves: chosen with a key, then done with Enter.

Invariant: no key that was typed before the page was seen chooses anything, and Enter
does only what stood there as chosen when it was typed. What is chosen at first, and
again after any key that means nothing here, is to decide nothing. Esc always goes
back and decides nothing.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping

from tui.widgets.keys import BACK, MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import Page
from tui.widgets.paint import StyledRow


class DecidingPage(Page):
    """Subclasses list what can be chosen, and do it."""

    ENTER = "do what is chosen"
    UNDECIDED = "Nothing is chosen yet: press a letter, then Enter."
    NOTHING: Hashable = ("option", "")  # the key of the line that decides nothing

    def __init__(self, back: str) -> None:
        super().__init__()
        self._back = back
        self._choice = self.another_sight()  # of what Enter would do

    # What subclasses say

    def list_choices(self) -> list[Item]:
        """What is asked, and what can be chosen."""
        raise NotImplementedError

    def letters(self) -> Mapping[str, Hashable]:
        """The line that a sign chooses."""
        raise NotImplementedError

    def in_words(self, chosen: Hashable) -> str:
        """What Enter would do, to be told before it is pressed."""
        raise NotImplementedError

    def carry_out(self, chosen: Hashable) -> None:
        """Do it."""
        raise NotImplementedError

    def nothing_chosen(self) -> Item:
        """The line that decides nothing."""
        row: StyledRow = (("  ", ""), ("Esc", "strong"), (f"  {self._back}", ""))
        return fixed(self.NOTHING, row)

    # What they share

    def live_keys(self) -> tuple[PageKey, ...]:
        """Enter does what is chosen."""
        enter = key("Enter", self.ENTER, self.ENTER, "take")
        letter = PageKey((), "a letter", "chooses", "chooses a line; Enter does it", "")
        return (enter, letter, key("Esc", self._back, self._back, "back"), *MOVING)

    def load(self) -> None:
        """List it; what was chosen stays chosen."""
        known = self.lines.key
        self.lines.show(self.list_choices(), key=self.NOTHING if known is None else known)
        self._tell_chosen()
        self.sight.show_anew()

    def chosen(self) -> None:
        """Another line was chosen: it has to be seen before Enter may do it."""
        self._tell_chosen()

    def _tell_chosen(self) -> None:
        if self.lines.key == self.NOTHING:
            self.tell(self.UNDECIDED)
        else:
            self.tell(f"Enter: {self.in_words(self.lines.key)}")
        self._choice.show_anew()

    def do_key(self, pressed: str, character: str | None) -> None:
        """Esc at any time; every other key once the page is seen."""
        if pressed in BACK.press:
            self.do_back()
        elif self.in_sight():
            known = self.letters()
            if character is not None and character in known:
                self._choose(known[character])
            elif any(pressed in each.press for each in self.live_keys()):
                super().do_key(pressed, character)
            else:
                self._choose(self.NOTHING)

    def _choose(self, line: Hashable) -> None:
        if self.lines.key == line:
            self._tell_chosen()
        else:
            self.lines.choose(line)

    def do_take(self) -> None:
        """Do what is chosen, if it was seen as chosen when Enter was typed."""
        if self.in_sight(self._choice):
            if self.lines.key == self.NOTHING:
                self.decide_nothing()
            else:
                self.carry_out(self.lines.key)

    def decide_nothing(self) -> None:
        """Enter on the line that decides nothing."""
        self.do_back()
