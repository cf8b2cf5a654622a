"""The one virtual list: items of one or more lines, some of which can be chosen.

Invariant: exactly one item that can be chosen is chosen, if there is any, and it
is in view. The list never scrolls without need; where it must, it moves by a
quarter of its height, so that holding an arrow key does not repaint each time.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from tui.widgets.paint import Paint, StyledRow
from tui.widgets.painted import Painted, PaintedRow


@dataclass(frozen=True, slots=True)
class Item:
    """One entry. `draw` gives its lines for a width; headings cannot be chosen.

    `tall`: how many lines that are, where it is known beforehand: it is then drawn when it
    comes into view, so that a list of thousands is there at once. 0 where it is not known.
    """

    key: Hashable
    draw: Callable[[int], Sequence[StyledRow]]
    heading: bool = False
    tall: int = 0


def fixed(key: Hashable, *rows: StyledRow, heading: bool = False) -> Item:
    """An item whose lines do not depend on the width."""
    return Item(key, lambda width: rows, heading)


class Lines(Painted):
    """A list of items that is moved through with keys alone."""

    DEFAULT_CSS = "Lines { height: 1fr; }"

    def __init__(self, paint: Paint, *, id: str | None = None) -> None:
        super().__init__(paint, id=id)
        self.items: list[Item] = []
        self.cursor = -1  # index of the chosen item
        self.top: int = 0  # index of the first line in view
        self.under: list[StyledRow] = []  # lines pushed in below the chosen item
        self.moved: Callable[[], None] = lambda: None
        self._drawn: list[Sequence[StyledRow] | None] = []  # None: not drawn yet
        self._places: dict[Hashable, int] = {}  # where items stand, by their keys
        self._starts: list[int] = []
        self._total = 0  # lines of all items together

    # What is listed

    def show(self, items: Sequence[Item], key: Hashable | None = None) -> None:
        """List these; choose `key`, else what was chosen before, else the first."""
        wanted = self.key if key is None else key
        place = self.cursor
        self.items = list(items)
        self._places = {item.key: n for n, item in reversed([*enumerate(items)])}
        self.under = []
        found = self.index(wanted) if wanted is not None else -1
        self.cursor = found if found >= 0 else self._nearest(min(place, len(items) - 1))
        self.laid_out()
        self.settle()

    def index(self, key: Hashable) -> int:
        """Where the item with a key stands, or -1."""
        return self._places.get(key, -1)

    @property
    def key(self) -> Hashable | None:
        """The key of the chosen item."""
        return self.items[self.cursor].key if 0 <= self.cursor < len(self.items) else None

    def choose(self, key: Hashable) -> bool:
        """Choose the item with a key; False where there is none."""
        found = self.index(key)
        if found < 0:
            return False
        self._go(found)
        return True

    def redraw(self) -> None:
        """Lay out again what is listed, since what an item draws has changed."""
        self.laid_out()
        self.settle()

    def push_under(self, rows: Sequence[StyledRow]) -> None:
        """Show lines under the chosen item, or none."""
        self.under = list(rows)
        self._place()
        self.settle()

    # Moving

    def step(self, by: int) -> None:
        """Choose the next or previous item that can be chosen."""
        n = self.cursor + by
        while 0 <= n < len(self.items) and self.items[n].heading:
            n += by
        if 0 <= n < len(self.items):
            self._go(n)
        else:  # text without anything to choose, or above the first that can be
            self._scroll(by)

    def page(self, by: int) -> None:
        """Move by a page."""
        if not self.items:
            return
        if self.cursor < 0:
            self._scroll(by * max(self.size.height - 2, 1))
            return
        line = self._start() + by * max(self.size.height - 2, 1)
        at = max(bisect_right(self._starts, line) - 1, 0)
        self._go(self._nearest(at, by))

    def ends(self, last: bool) -> None:
        """Choose the first or the last item."""
        self._go(self._nearest(len(self.items) - 1 if last else 0, -1 if last else 1))

    def _go(self, n: int) -> None:
        if 0 <= n < len(self.items):
            changed = n != self.cursor
            self.cursor = n
            if changed and self.under:
                self.under = []
                self._place()
            self.settle()
            if changed:
                self.moved()

    def _scroll(self, by: int) -> None:
        self.top = max(min(self.top + by, self._total - self.size.height), 0)
        self.repaint()

    def _nearest(self, at: int, by: int = 1) -> int:
        """The item at or near a place that can be chosen, or -1."""
        at = max(at, 0)
        ahead = range(at, len(self.items)) if by > 0 else range(at, -1, -1)
        behind = range(at, -1, -1) if by > 0 else range(at, len(self.items))
        places: tuple[int, ...] = (*ahead, *behind)
        for n in places:
            if n < len(self.items) and not self.items[n].heading:
                return n
        return -1

    # Where lines stand

    def laid_out(self) -> None:
        """Draw items for the width that is there now; those of known height when they are seen."""
        width = self.size.width
        drawn = (None if item.tall else item.draw(width) for item in self.items)
        self._drawn = list(drawn) if width else []
        self._place()

    def _rows(self, n: int) -> Sequence[StyledRow]:
        rows = self._drawn[n]
        if rows is None:
            rows = self._drawn[n] = self.items[n].draw(self.size.width)
            assert len(rows) == self.items[n].tall, self.items[n].key
        return rows

    def _height(self, n: int) -> int:
        rows = self._drawn[n]
        return self.items[n].tall if rows is None else len(rows)

    def _place(self) -> None:
        self._starts, line = [], 0
        for n in range(len(self._drawn)):
            self._starts.append(line)
            line += self._height(n) + (len(self.under) if n == self.cursor else 0)
        self._total = line

    def _start(self) -> int:
        return self._starts[self.cursor] if 0 <= self.cursor < len(self._starts) else 0

    def settle(self) -> None:
        """Bring the chosen item into view and repaint what differs."""
        height = self.size.height
        if height and self._starts:
            start = self._start()
            tall = self._height(self.cursor) + len(self.under) if self.cursor >= 0 else 1
            if start < self.top:
                self.top = max(start - max(height // 4, 1), 0)
            elif start + tall > self.top + height:
                self.top = min(start + tall - height + height // 4, start)
            self.top = max(min(self.top, self._total - height), 0)
        else:
            self.top = 0
        self.repaint()

    def window(self) -> list[PaintedRow]:
        """The lines in view."""
        shown: list[PaintedRow] = []
        bottom = self.top + self.size.height
        for n in range(max(bisect_right(self._starts, self.top) - 1, 0), len(self._drawn)):
            start = self._starts[n]
            if start >= bottom:
                break
            rows, chosen = self._rows(n), n == self.cursor
            every = [(row, (2 if y else 1) if chosen and row else 0) for y, row in enumerate(rows)]
            if chosen:
                every += [(row, 0) for row in self.under]
            for y, entry in enumerate(every, start):
                if self.top <= y < bottom:
                    shown.append(entry)
        return shown

    def on_resize(self) -> None:
        """Another size: draw anew and keep the chosen item in view."""
        self.laid_out()
        self.settle()

    def text(self) -> str:
        """Everything in view as it is painted, for tests."""
        width = self.size.width
        strips = (self.paint.strip(row, width, chosen=chosen) for row, chosen in self.window())
        return "\n".join(strip.text.rstrip() for strip in strips)
