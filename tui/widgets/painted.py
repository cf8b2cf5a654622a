"""Widgets that know which lines they painted and repaint only what differs.

Invariant: a line goes over the wire only if its text or its style changed, and of it only
the span from the first cell that differs to the last.
"""

from __future__ import annotations

from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.widgets.paint import Paint, StyledRow, cells_of

PaintedRow = tuple[
    StyledRow, int
]  # a row, and 0; or of the chosen item: 1 for its first row, else 2
EMPTY: PaintedRow = ((), 0)


class Painted(Widget, can_focus=False):
    """A widget of plain lines. Subclasses say in `window` what stands where."""

    DEFAULT_CSS = "Painted { width: 100%; }"

    def __init__(self, paint: Paint, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.paint = paint
        self._painted: list[PaintedRow] = []

    def window(self) -> list[PaintedRow]:
        """The lines to show, from the top; fewer than the height is fine."""
        raise NotImplementedError

    def repaint(self) -> None:
        """Have the lines painted that differ from what stands there.

        A page behind another one waits: it is brought up to date when it is in front.
        """
        if not self.is_attached or self.screen is not self.app.screen:
            return
        before, after = self._painted, self.window()
        self._painted = after
        width = self.size.width
        for y in range(max(len(before), len(after))):
            old = before[y] if y < len(before) else EMPTY
            new = after[y] if y < len(after) else EMPTY
            if old != new:
                self._refresh_span(y, old, new, width)

    def _refresh_span(self, y: int, old: PaintedRow, new: PaintedRow, width: int) -> None:
        """Have the cells of a line painted that differ."""
        before, after = (
            cells_of(self.paint.strip(row, width, chosen=chosen)) for row, chosen in (old, new)
        )
        differ = [n for n, pair in enumerate(zip(before, after, strict=True)) if pair[0] != pair[1]]
        if differ:
            self.refresh(Region(differ[0], y, differ[-1] - differ[0] + 1, 1))

    def on_resize(self) -> None:
        """Another size: everything is laid out anew; Textual has painted the old lines."""
        self.laid_out()
        self.repaint()

    def laid_out(self) -> None:
        """Called when the width is known or changed, before painting."""

    def render_line(self, y: int) -> Strip:
        """What Textual asks for: one line."""
        row, chosen = self._painted[y] if y < len(self._painted) else EMPTY
        return self.paint.strip(row, self.size.width, chosen=chosen)


class Bar(Painted):
    """One line that stands by itself: a title, a status, the keys."""

    DEFAULT_CSS = "Bar { height: 1; }"

    def __init__(self, paint: Paint, *, id: str | None = None) -> None:
        super().__init__(paint, id=id)
        self._row: StyledRow = ()

    @property
    def text(self) -> str:
        """What stands in the line, for tests and for copying."""
        return "".join(text for text, _ in self._row)

    def say(self, *row: tuple[str, str]) -> None:
        """Put a row there; nothing is painted where it is the same."""
        self._row = row
        self.repaint()

    def window(self) -> list[PaintedRow]:
        """The one line."""
        return [(self._row, 0)]
