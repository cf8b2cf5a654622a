"""The one line that is typed in: a value, a reason, words to find.

Invariant: what was typed stays until it is accepted or dropped; a refusal never
clears it. The caret does not blink. No widget of its own: the page paints it
where it belongs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rich.cells import cell_len

from tui.safe import safe
from tui.widgets.paint import StyledText

MOST = 20_000  # signs; the longest text a record may hold


@dataclass(slots=True)
class Entry:
    """Typed text and the caret in it."""

    text: str = ""
    at: int = -1  # before which sign the caret stands; -1: behind the last one

    def __post_init__(self) -> None:
        if self.at < 0:
            self.at = len(self.text)

    def insert(self, text: str) -> None:
        """Type or paste at the caret."""
        text = text[: MOST - len(self.text)]
        self.text = self.text[: self.at] + text + self.text[self.at :]
        self.at += len(text)

    def press(self, key: str, character: str | None) -> bool:
        """Handle a key; False where it means nothing to a line of text."""
        move = _MOVES.get(key)
        if move is not None:
            self.at = max(0, min(len(self.text), move(self)))
        elif key == "backspace":
            start = max(self.at - 1, 0)
            self.text = self.text[:start] + self.text[self.at :]
            self.at = start
        elif key == "delete":
            self.text = self.text[: self.at] + self.text[self.at + 1 :]
        elif key == "ctrl+u":
            self.text, self.at = "", 0
        elif key == "ctrl+j":
            self.insert("\n")
        elif character and character.isprintable():
            self.insert(character)
        else:
            return False
        return True

    def row(self, label: str, width: int) -> tuple[StyledText, ...]:
        """The line to type in, `width` cells with what is asked for before it."""
        room = max(width - len(label) - 3, 10)
        return ((f"{label}: ", "strong"), *self.pieces(room))

    def pieces(self, width: int) -> list[StyledText]:
        """The text in `width` cells with its caret, scrolled so that the caret is seen."""
        before, here, after = (
            self.text[: self.at],
            self.text[self.at :][:1],
            self.text[self.at + 1 :],
        )
        before, here, after = safe(before), safe(here) or " ", safe(after)
        while cell_len(before) > width - cell_len(here):
            before = before[1:]
        room = width - cell_len(before) - cell_len(here)
        while cell_len(after) > room:
            after = after[:-1]
        rest = " " * (room - cell_len(after))
        return [(before, "typed"), (here, "caret"), (after + rest, "typed")]


_MOVES: dict[str, Callable[[Entry], int]] = {
    "left": lambda entry: entry.at - 1,
    "right": lambda entry: entry.at + 1,
    "home": lambda entry: 0,
    "end": lambda entry: len(entry.text),
    "ctrl+a": lambda entry: 0,
    "ctrl+e": lambda entry: len(entry.text),
}
