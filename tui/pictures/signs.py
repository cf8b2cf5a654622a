"""The signs that pictures are drawn with, and the last touch that each picture gets.

Invariant: what `finish` returns is safe, has at most `width` cells a line, and is
ASCII where that is asked for. A sign stands for one thing by its form alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from tui.safe import encodable, fit, safe, wrap

NARROWEST = 40  # narrower ones are laid out for this and cut

Corners = tuple[str, str, str, str]  # top left, top right, bottom left, bottom right


@dataclass(frozen=True, slots=True)
class Signs:
    """One set of signs, each one cell wide."""

    right: str
    left: str
    up: str
    down: str
    level: str  # a level line
    upright: str
    edge: Corners  # of the plate
    round: Corners  # of a round pocket
    square: Corners
    full: str
    half: str
    light: str
    dots: str
    more: str  # goes on to the right
    less: str


RICH = Signs(
    *("→", "←", "↑", "↓", "─", "│"),
    *(("┌", "┐", "└", "┘"), ("╭", "╮", "╰", "╯"), ("┌", "┐", "└", "┘")),
    *("█", "▓", "░", "·", "»", "«"),
)
PLAIN = Signs(
    *(">", "<", "^", "v", "-", "|"),
    *(("+", "+", "+", "+"), ("/", "\\", "\\", "/"), ("+", "+", "+", "+")),
    *("#", "=", ":", ".", ">", "<"),
)


def signs(ascii_only: bool) -> Signs:
    """The signs that the terminal can show."""
    return PLAIN if ascii_only else RICH


def finish(lines: Iterable[str], width: int, ascii_only: bool) -> list[str]:
    """Lines as they may be shown: safe, no wider than `width`, no spaces at their ends."""
    found = []
    for line in lines:
        text = safe(line)
        if ascii_only:
            text = encodable(text, "ascii")
        if cell_len(text) > width:
            text = fit(text, width)
        found.append(text.rstrip())
    return found


def words(text: str, width: int, indent: str = "  ") -> list[str]:
    """Text in lines of at most `width` cells; those after the first are set in."""
    first, *rest = wrap(text, width - len(indent))
    return [first, *(indent + line for line in rest)]


def cannot_tell(addresses: Sequence[str], width: int, about: str = "") -> list[str]:
    """What is missing, with every address, in lines."""
    lead = f"{about}: " if about else ""
    return words(f"{lead}cannot tell: {', '.join(addresses)}", width)


def number(value: float) -> str:
    """A value to read at a glance: three or four digits that count."""
    size = abs(value)
    places = 3 if size < 0.9995 else 2 if size < 9.995 else 1 if size < 999.95 else 0
    return _without_minus_zero(f"{value:.{places}f}")


def _without_minus_zero(text: str) -> str:
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text
