"""What is noted while a program is read: every list is bounded, every count is complete.

Nothing here grows with the length of the program: past its limit a list only
counts. Values are Decimals as typed.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from decimal import Decimal
from typing import Generic, TypeVar

from engine.views.programs import (
    Bounded,
    Call,
    CodeUse,
    EndWord,
    Feed,
    LineProblem,
    OffsetUse,
    Speed,
    ToolUse,
)

from .dialect import Dialect
from .modal import Caveats

T = TypeVar("T")
LIMIT = 1000  # items kept of each kind
PROBLEM_LIMIT = 200


class Kept(Generic[T]):
    """The first `limit` items and a count of all."""

    __slots__ = ("_seen", "count", "items", "limit")

    def __init__(self, limit: int = LIMIT) -> None:
        self.items: list[T] = []
        self.count = 0
        self.limit = limit
        self._seen: set[Hashable] = set()

    def add(self, kind: Callable[..., T], *parts: object) -> None:
        """Keep an item, which is made of its parts only then; or only count it."""
        self.count += 1
        if len(self.items) < self.limit:
            self.items.append(kind(*parts))

    def add_once(self, key: Hashable, kind: Callable[..., T], *parts: object) -> None:
        """As `add`, but nothing happens if the key came before (among the kept ones)."""
        if key in self._seen:
            return
        if len(self._seen) < self.limit:
            self._seen.add(key)
        self.add(kind, *parts)

    def freeze(self) -> Bounded[T]:
        """What is kept, for good."""
        return Bounded(tuple(self.items), self.count)


class Ledger:
    """All that is noted over the whole text, whichever of its programs it is in."""

    def __init__(self) -> None:
        self.notes = Caveats()
        self.problems: Kept[LineProblem] = Kept(PROBLEM_LIMIT)
        self.ends: Kept[EndWord] = Kept()
        self.returns: Kept[EndWord] = Kept()
        self.end_codes: set[str] = set()
        self.units: Kept[CodeUse] = Kept()
        self.offset_writes: Kept[CodeUse] = Kept()
        self.speeds: Kept[Speed] = Kept()
        self.clamps: Kept[Speed] = Kept()
        self.feeds: Kept[Feed] = Kept()
        self.stops: Kept[CodeUse] = Kept()
        self.uses: Kept[CodeUse] = Kept()
        self.calls: Kept[Call] = Kept()
        self.reference_moves: Kept[CodeUse] = Kept()
        self.tools: Kept[ToolUse] = Kept()
        self.block_delete_lines = 0
        self.has_tool_change = False
        self._selected: tuple[int, int, str] | None = None  # line, number and text of a T word
        self._offsets: dict[str, list[int]] = {}
        self._top: Decimal | None = None
        self._top_clamp: Decimal | None = None
        self._surface = False

    def problem(self, line: int, kind: str, reason: str) -> None:
        """Note a problem."""
        self.problems.add(LineProblem, line, kind, reason)

    def end(self, end: EndWord) -> None:
        """Note an end code, an M99 also as a return."""
        self.ends.add(lambda: end)
        self.end_codes.add(end.code)
        if end.code == "M99":
            self.returns.add(lambda: end)

    def offset(self, code: str, line: int) -> None:
        """Note that a work offset is chosen."""
        if code in self._offsets or len(self._offsets) < LIMIT:
            self._offsets.setdefault(code, [line, 0])[1] += 1

    def offsets(self) -> Bounded[OffsetUse]:
        """Work offsets in the order in which they are first chosen."""
        uses = [OffsetUse(code, line, count) for code, (line, count) in self._offsets.items()]
        return Bounded(tuple(uses), len(uses))

    def speed(self, line: int, value: Decimal, surface: bool) -> None:
        """Note an S word."""
        self.speeds.add(Speed, line, value, surface)
        if surface:
            self._surface = True
        elif self._top is None or value > self._top:
            self._top = value

    def clamp(self, line: int, value: Decimal) -> None:
        """Note a limit of the spindle speed."""
        self.clamps.add(Speed, line, value)
        if self._top_clamp is None or value > self._top_clamp:
            self._top_clamp = value

    def spindle_top(self) -> Decimal | None:
        """Highest 1/min that the program can ask for; None if that cannot be told."""
        if not self._surface:
            return self._top
        if self._top_clamp is None:
            return None
        return self._top_clamp if self._top is None else max(self._top, self._top_clamp)

    def select(self, line: int, number: int, text: str) -> None:
        """Note a T word; what it replaces was selected for nothing."""
        self._drop_selected()
        self._selected = (line, number, text)

    def change(self, line: int) -> None:
        """M6: the selected tool comes into use (NISTIR 6556, 3.6.3, from memory)."""
        self.has_tool_change = True
        if self._selected is not None:
            self.tools.add(ToolUse, *self._selected, None, line)
            self._selected = None

    def _drop_selected(self) -> None:
        if self._selected is not None:
            self.tools.add(ToolUse, *self._selected, None, None)
            self._selected = None

    def tool_listing(self, dialect: Dialect) -> Bounded[ToolUse]:
        """All tools; T words that name an offset are taken apart (common practice)."""
        self._drop_selected()
        if self.has_tool_change:
            return self.tools.freeze()
        return Bounded(tuple(_apart(t, dialect) for t in self.tools.items), self.tools.count)


def _apart(tool: ToolUse, dialect: Dialect) -> ToolUse:
    """T0404 -> tool 4 with offset 4, in use from that line on."""
    digits = dialect.offset_digits
    if digits == 0 or (digits is None and not (len(tool.text) == 4 and tool.text.isdigit())):
        return tool
    keep = 2 if digits is None else digits
    if len(tool.text) <= keep or not tool.text.isdigit():
        return ToolUse(tool.line, tool.number, tool.text, None, tool.line)
    number, offset = int(tool.text[:-keep]), int(tool.text[-keep:])
    return ToolUse(tool.line, number, tool.text, offset, tool.line)
