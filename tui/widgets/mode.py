"""One kind of typing on a page: the mode gets every key and says what the bottom line shows.

Invariant: a page is in one mode at most, and without one its table of keys holds. What was
typed stays until the mode accepts or drops it.
"""

from __future__ import annotations

from typing import ClassVar

from tui.widgets.entry import Entry
from tui.widgets.keys import PageKey

_ARROWS = ("up", "down", "pageup", "pagedown")


class Mode:
    """A line of text that is typed. Subclasses say what Enter, Esc and each change do."""

    KEYS: ClassVar[tuple[PageKey, ...]] = ()

    def __init__(self, text: str = "") -> None:
        self.entry = Entry(text)

    def live_keys(self) -> tuple[PageKey, ...]:
        """The keys that work while this is typed."""
        return self.KEYS

    def press(self, pressed: str, character: str | None) -> bool:
        """Take a key; False hands it on to the table of keys."""
        if pressed == "enter":
            self.accept()
        elif pressed == "escape":
            self.drop()
        elif self.entry.press(pressed, character):
            self.typed()
        else:
            return pressed not in _ARROWS  # they move in the list; other keys mean nothing then
        return True

    def typed(self) -> None:
        """The text changed."""
        raise NotImplementedError

    def accept(self) -> None:
        """Enter was pressed."""
        raise NotImplementedError

    def drop(self) -> None:
        """Esc was pressed."""
        raise NotImplementedError
