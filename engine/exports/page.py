"""An A4 page in black on white: lengths in mm from the top left corner, type in points.

Nothing is told by colour or by grey alone, so a sheet may be copied. Text that
does not fit its width is set smaller, and cut with an ellipsis only below a
readable size; a number is never cut. Every character of foreign text is drawn or replaced visibly.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import hypot

from engine.exports.letters import characters, drawable

WIDE, TALL, EDGE, FOOT = 210.0, 297.0, 12.0, 19.0
RIGHT = WIDE - EDGE
ROOM = WIDE - 2 * EDGE
LINE = 0.3528 * 1.25  # mm for a point of type: one point is 1/72 in, a quarter is between lines
_SHRINK = 0.72
_WHERE = "the record and `witnessmark figures` have all"

Style = str  # "" plain, "B" bold, "I" slanted


class PaperPage:
    """Pages one after another, with a place `y` where the next thing goes."""

    def __init__(
        self, head: Callable[[PaperPage], None], foot: Callable[[PaperPage], None]
    ) -> None:
        import ttf_opensans as faces  # type: ignore[import-untyped]
        from fpdf import FPDF

        self._pdf = FPDF(format="A4", unit="mm")
        self._pdf.set_auto_page_break(False)
        self._pdf.c_margin = 0
        fonts = {
            "": str(faces.OPENSANS_REGULAR.path),
            "B": str(faces.OPENSANS_BOLD.path),
            "I": str(faces.OPENSANS_SEMIBOLDITALIC.path),
        }
        self._known = frozenset.intersection(*map(characters, fonts.values()))
        for style, path in fonts.items():
            self._pdf.add_font("sheet", style, path)
        self._head, self._foot = head, foot
        self.y = EDGE
        self.number = 0
        self.turn()

    # pages

    def turn(self) -> None:
        """Begin another page."""
        self._pdf.add_page()
        self.number += 1
        self.y = EDGE
        self._head(self)
        below, self.y = self.y, TALL - FOOT
        self._foot(self)
        self.y = below

    def need(self, height: float) -> None:
        """Begin another page where so much height is not left."""
        if self.y + height > TALL - FOOT:
            self.turn()

    def finish(self, title: str, at: datetime) -> bytes:
        """The bytes of the file."""
        self._pdf.set_title(self._clean(title))
        self._pdf.set_creator("Witnessmark")
        self._pdf.set_creation_date(at)
        return bytes(self._pdf.output())

    # text

    def _clean(self, text: str) -> str:
        return drawable(text, self._known)

    def _font(self, size: float, style: Style) -> None:
        self._pdf.set_font("sheet", style, size)

    def width(self, text: str, size: float, style: Style = "") -> float:
        """How wide a text is."""
        self._font(size, style)
        return float(self._pdf.get_string_width(self._clean(text)))

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        style: Style = "",
        *,
        width: float = 0,
        align: str = "L",
        white: bool = False,
        whole: bool = False,
    ) -> float:
        """One line whose top is at `y`; how wide it came out. `width` is what it may take.

        A `whole` text, a number for one, is set as small as it must be and never cut.
        """
        words = self._clean(text)
        takes = self.width(words, size, style)
        if width and takes > width:
            size = size * (width / takes if whole else max(width / takes, _SHRINK))
            words = self._cut(words, size, style, width)
            takes = self.width(words, size, style)
        self._font(size, style)
        if align == "C":
            x += (width - takes) / 2
        elif align == "R":
            x += width - takes
        self._pdf.set_text_color(255 if white else 0)
        self._pdf.text(x, y + size * 0.3528 * 0.92, words)
        return takes

    def _cut(self, words: str, size: float, style: Style, width: float) -> str:
        if self.width(words, size, style) <= width + 0.01:
            return words
        while words and self.width(words + "…", size, style) > width:
            words = words[:-1]
        return words + "…"

    def lines(self, text: str, size: float, style: Style, width: float) -> list[str]:
        """A text in lines that fit a width; its own line breaks stay."""
        found: list[str] = []
        for paragraph in text.splitlines():
            line = ""
            for word in self._clean(paragraph).split(" "):
                longer = f"{line} {word}".strip()
                if line and self.width(longer, size, style) > width:
                    found.append(line)
                    line = word
                else:
                    line = longer
            found.append(line)
        return found

    def paragraph(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        style: Style = "",
        *,
        width: float,
        most: int = 99,
    ) -> float:
        """Lines of text; the height they took. What is beyond `most` lines is told."""
        lines = self._within(text, size, style, width, most)
        for n, line in enumerate(lines):
            self.text(x, y + n * size * LINE, line, size, style, width=width)
        return len(lines) * size * LINE

    def tall(self, text: str, size: float, *, width: float, most: int = 99) -> float:
        """The height that a paragraph will take."""
        return len(self._within(text, size, "", width, most)) * size * LINE

    def _within(self, text: str, size: float, style: Style, width: float, most: int) -> list[str]:
        lines = self.lines(text, size, style, width)
        if len(lines) > most:
            more = len(lines) - most + 1
            lines = [*lines[: most - 1], f"… and {more} more lines: {_WHERE}"]
        return lines

    # lines and areas

    def rule(self, x0: float, y0: float, x1: float, y1: float, wide: float = 0.2) -> None:
        """A straight line."""
        self._pdf.set_line_width(wide)
        self._pdf.set_draw_color(0)
        self._pdf.line(x0, y0, x1, y1)

    def box(self, x: float, y: float, wide: float, tall: float, line: float = 0.25) -> None:
        """An empty box."""
        self._pdf.set_line_width(line)
        self._pdf.set_draw_color(0)
        self._pdf.rect(x, y, wide, tall)

    def dashed(self, x: float, y: float, wide: float, tall: float) -> None:
        """A dashed frame: what is in it is pencil."""
        self._pdf.set_dash_pattern(dash=0.9, gap=0.6)
        self.box(x, y, wide, tall, 0.3)
        self._pdf.set_dash_pattern()

    def solid(self, x: float, y: float, wide: float, tall: float, grey: int = 0) -> None:
        """A filled area."""
        self._pdf.set_fill_color(grey)
        self._pdf.rect(x, y, wide, tall, style="F")

    def ring(self, x: float, y: float, wide: float, tall: float, line: float = 0.25) -> None:
        """A circle or ellipse about a middle."""
        self._pdf.set_line_width(line)
        self._pdf.set_draw_color(0)
        self._pdf.ellipse(x - wide / 2, y - tall / 2, wide, tall)

    def middle_box(self, x: float, y: float, wide: float, tall: float, line: float = 0.25) -> None:
        """A box about a middle."""
        self.box(x - wide / 2, y - tall / 2, wide, tall, line)

    def arrow(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """A thin line with a filled head at its end."""
        length = hypot(x1 - x0, y1 - y0)
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        self.rule(x0, y0, x1, y1, 0.25)
        back, half = 2.4, 0.9
        bx, by = x1 - ux * back, y1 - uy * back
        self._pdf.set_fill_color(0)
        points = [(x1, y1), (bx - uy * half, by + ux * half), (bx + uy * half, by - ux * half)]
        self._pdf.polygon(points, style="F")

    def picture(self, x: float, y: float, wide: float, tall: float, data: bytes) -> None:
        """A picture fitted into a frame, as large as goes in."""
        from io import BytesIO

        self._pdf.image(BytesIO(data), x, y, wide, tall, keep_aspect_ratio=True)
