"""Named styles and the way from text to a strip of the screen.

Invariant: all text that is painted passes `Paint.strip`, which makes it safe
and encodable; nothing is ever read as markup. Colours are the terminal's own
sixteen and only repeat what a word or a sign in the margin says already.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tui.safe import encodable, safe

StyledText = tuple[str, str]  # text, name of a style
StyledRow = tuple[StyledText, ...]

CHOSEN = ">"  # in the first column of the chosen line, for eyes and terminals without reverse

_PLAIN: dict[str, Style] = {
    "": Style(),
    "strong": Style(bold=True),
    "heading": Style(bold=True, underline=True),
    "quiet": Style(),
    "pencil": Style(italic=True),
    "theirs": Style(),
    "contested": Style(bold=True),
    "error": Style(bold=True),
    "warning": Style(bold=True),
    "typed": Style(underline=True),
    "caret": Style(reverse=True),
    "bar": Style(reverse=True),
}
_COLOURED: dict[str, Style] = _PLAIN | {
    "pencil": Style(color="cyan"),
    "theirs": Style(color="magenta"),
    "contested": Style(bold=True, color="red"),
    "error": Style(bold=True, color="red"),
    "warning": Style(bold=True, color="yellow"),
}


@dataclass(frozen=True, slots=True)
class Paint:
    """How this terminal is painted on: with colours or without, in which encoding."""

    colours: bool = True
    encoding: str = "utf-8"

    @property
    def rich(self) -> bool:
        """Whether signs beyond ASCII can be shown, as pictures are drawn with."""
        return self.encoding.lower().replace("-", "").replace("_", "") == "utf8"

    def strip(self, row: StyledRow, width: int, *, chosen: int = 0) -> Strip:
        """One line of the screen, exactly `width` cells.

        The words of the chosen item are reversed, its first line (1) begins with `>`.
        A line that is typed in is not: the caret and the typed text stand out there.
        """
        styles = _COLOURED if self.colours else _PLAIN
        reverse = bool(chosen) and all(name != "caret" for _, name in row)
        segments: list[Segment] = []
        for text, name in row:
            style = Style(reverse=True, bold=styles[name].bold) if reverse else styles[name]
            harmless = encodable(safe(text), self.encoding)
            if chosen == 1 and not segments and harmless.startswith(" "):
                harmless = CHOSEN + harmless[1:]
            segments.append(Segment(harmless, style))
        rest = width - sum(cell_len(segment.text) for segment in segments)
        if rest > 0:
            bar = row and row[-1][1] == "bar"
            segments.append(Segment(" " * rest, Style(reverse=True) if bar else Style()))
        return Strip(Segment.simplify(segments)).crop(0, width)


def cells_of(strip: Strip) -> list[tuple[str, Style | None]]:
    """What stands in each cell: a wide sign in both of its own, and with it what has no width."""
    found: list[tuple[str, Style | None]] = []
    for text, style, _ in strip:
        for sign in text:
            cells = cell_len(sign)
            if not cells and found:
                found[-1] = (found[-1][0] + sign, style)
            found += [(sign, style)] * cells
    return found
