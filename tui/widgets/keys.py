"""One table of keys for each page: dispatch, keys line and help are made of it.

Invariant: a key that does something stands in the help, and nothing else does.
No function keys, nothing that a terminal or a habit may take (Ctrl+H, I, M, Q).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tui.widgets.paint import StyledRow


@dataclass(frozen=True, slots=True)
class PageKey:
    """One key: its names in Textual, how it is written, and what it does."""

    press: tuple[str, ...]
    label: str
    word: str  # for the keys line
    meaning: str  # for the help
    action: str  # name of the page's method
    shown: bool = True


def key(label: str, word: str, meaning: str, action: str, *, shown: bool = True) -> PageKey:
    """A key by its label: a letter, or one of the names below."""
    return PageKey(_NAMES.get(label, (label,)), label, word, meaning, action, shown)


_NAMES = {
    "Enter": ("enter",),
    "Esc": ("escape",),
    "Ctrl+L": ("ctrl+l",),
    "Tab": ("tab",),
    "Shift+Tab": ("shift+tab",),
    "Space": ("space",),
    "Del": ("delete", "backspace"),
    "Up": ("up",),
    "Down": ("down",),
    "PgUp": ("pageup",),
    "PgDn": ("pagedown",),
    "Home": ("home",),
    "End": ("end",),
    "?": ("question_mark",),
    "/": ("slash",),
}

MOVING = (
    key("Up", "", "one line up", "move_up", shown=False),
    key("Down", "", "one line down", "move_down", shown=False),
    key("PgUp", "", "one page up", "page_up", shown=False),
    key("PgDn", "", "one page down", "page_down", shown=False),
    key("Home", "", "to the first line", "move_first", shown=False),
    key("End", "", "to the last line", "move_last", shown=False),
)
HELP = key("?", "help", "this help", "help")
LOOK = key("Ctrl+L", "", "look again: at the book, at others' pencil, at files on disk", "look")
BACK = key("Esc", "back", "back to where you came from", "back")


def keys_row(keys: Iterable[PageKey], width: int) -> StyledRow:
    """The keys line: as many as fit, in the order of the table, help always."""
    shown = [k for k in keys if k.shown and k.word]
    last = [k for k in shown if k.label == "?"]
    taken = sum(len(_text(k)) for k in last)
    pieces: list[tuple[str, str]] = []
    for each in (k for k in shown if k.label != "?"):
        taken += len(_text(each))
        if taken > width:
            break
        pieces += [(each.label, "strong"), (f" {each.word}  ", "")]
    for each in last:
        pieces += [(each.label, "strong"), (f" {each.word}", "")]
    return tuple(pieces)


def _text(each: PageKey) -> str:
    return f"{each.label} {each.word}  "
