"""What a program says: frozen facts, every list bounded and with its full count.

Lines count from 1. Typed numbers are Decimals as typed; computed ones are
floats: extents in the program's unit and in mm (degrees for A, B, C, which
have no mm), times in seconds. A fact that could not be had is None, never a
guess.

Source: the words follow NISTIR 6556; what is common practice is marked so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, Literal, TypeVar

T = TypeVar("T")
Unit = Literal["mm", "in"]


@dataclass(frozen=True, slots=True)
class Bounded(Generic[T]):
    """The first items of a kind, and how many there were altogether."""

    items: tuple[T, ...] = ()
    count: int = 0

    def __iter__(self) -> Iterator[T]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    @property
    def complete(self) -> bool:
        """Whether all are kept."""
        return self.count == len(self.items)


@dataclass(frozen=True, slots=True)
class EndWord:
    """A code that ends a program. `jump`: the P of an M99 (common practice)."""

    line: int
    code: str
    program: int | None = None
    block_delete: bool = False
    conditional: bool = False
    jump: Decimal | None = None


@dataclass(frozen=True, slots=True)
class CodeUse:
    """A code of interest: `group` says whose ("door", "units", "stop", "reference"..)."""

    line: int
    code: str
    group: str
    block_delete: bool = False


@dataclass(frozen=True, slots=True)
class OffsetUse:
    """A work offset ("G54".."G59.3", "G54.1 P4"), its first line, how often it is chosen."""

    code: str
    line: int
    count: int


@dataclass(frozen=True, slots=True)
class ToolUse:
    """A tool as called. `text`: the digits typed; `offset`: None if the call names none.

    `change_line`: where it comes into use; None if it was selected and never changed to.
    """

    line: int
    number: int
    text: str
    offset: int | None
    change_line: int | None


@dataclass(frozen=True, slots=True)
class Speed:
    """An S word: 1/min, or m/min (ft/min in inches) if `surface` (G96, common practice)."""

    line: int
    value: Decimal
    surface: bool = False


@dataclass(frozen=True, slots=True)
class Feed:
    """An F word and the code of its kind: G94 per minute, G95 per revolution, G93 1/min."""

    line: int
    value: Decimal
    mode: str


@dataclass(frozen=True, slots=True)
class Call:
    """A subprogram call, `M98 P L` or `G65 P`. `repeats` is L, 1 if not given."""

    line: int
    code: str
    program: Decimal | None
    repeats: Decimal
    block_delete: bool = False


@dataclass(frozen=True, slots=True)
class ProgramStart:
    """An O number (common practice) and the code that ends what it starts; None if none does."""

    line: int
    number: int | None
    ending: EndWord | None


@dataclass(frozen=True, slots=True)
class Extent:
    """Lowest and highest value of one axis, with their lines; mm is None if not to be had."""

    axis: str
    low: float
    high: float
    low_mm: float | None
    high_mm: float | None
    low_line: int
    high_line: int


@dataclass(frozen=True, slots=True)
class Note:
    """Why extents or times may be short of the truth: a kind, its first line, how often."""

    kind: str
    line: int
    count: int
    reason: str


@dataclass(frozen=True, slots=True)
class AfterEnd:
    """Text between a program's end and the next O number or `%`; it is never carried out."""

    line: int
    lines: int


@dataclass(frozen=True, slots=True)
class ProgramTimes:
    """Estimated seconds and lengths, as programmed: no acceleration, no override.

    cutting: seconds at feed; dwell: seconds of G4 and in cycles; rapid_length:
    program units travelled at rapid. Calls found in the same file are counted.
    """

    cutting: float
    dwell: float
    rapid_length: float
    cutting_length: float


@dataclass(frozen=True, slots=True)
class LineProblem:
    """Something on a line that the standard does not allow, or that cannot be read."""

    line: int
    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class ProgramFacts:
    """All that was read from one program text; see each field's class for units.

    size, sha256: of the bytes as read. open_line, close_line: lines of the two
    `%`. leader_lines: lines before the opening `%`; trailing_lines: lines that are
    not blank after the closing one, which the standard ignores. ending: the code
    that ends the main program with block delete off, ending_when_deleting with it
    on. unit: the program's unit. spindle_top: highest 1/min, None if a surface speed
    has no clamp. notes: why extents and times may fall short; empty if nothing does.
    """

    size: int
    sha256: str
    lines: int
    open_line: int | None
    close_line: int | None
    leader_lines: int
    trailing_lines: int
    programs: Bounded[ProgramStart]
    ends: Bounded[EndWord]
    ending: EndWord | None
    ending_when_deleting: EndWord | None
    after_end: AfterEnd | None
    unit: Unit | None
    units: Bounded[CodeUse]
    work_offsets: Bounded[OffsetUse]
    offset_writes: Bounded[CodeUse]
    tools: Bounded[ToolUse]
    speeds: Bounded[Speed]
    speed_clamps: Bounded[Speed]
    spindle_top: Decimal | None
    feeds: Bounded[Feed]
    stops: Bounded[CodeUse]
    uses: Bounded[CodeUse]
    calls: Bounded[Call]
    returns: Bounded[EndWord]
    block_delete_lines: int
    extents: dict[str, Extent]
    machine_extents: dict[str, Extent]
    reference_moves: Bounded[CodeUse]
    times: ProgramTimes
    notes: tuple[Note, ...]
    problems: Bounded[LineProblem]

    @property
    def percent_opens(self) -> bool:
        """Whether a `%` line opens the program."""
        return self.open_line is not None

    @property
    def percent_closes(self) -> bool:
        """Whether a `%` line closes the program."""
        return self.close_line is not None

    @property
    def tool_numbers(self) -> tuple[int, ...]:
        """Numbers of the tools that come into use, each once, in order; 0 (none) left out."""
        numbers = (tool.number for tool in self.tools if tool.change_line is not None)
        return tuple(dict.fromkeys(number for number in numbers if number))

    def codes(self, group: str) -> tuple[CodeUse, ...]:
        """Uses of the caller's codes of one group, as "door"; in order."""
        return tuple(use for use in self.uses if use.group == group)


@dataclass(frozen=True, slots=True)
class ProgramChange:
    """One change. Lines are None where there is none; `old`, `new`: as typed.

    kind: feed, speed, tool, tool_offset, offset, motion, code, end, block_delete,
    program, expression, comment, spelling, word, line; lines_added, lines_removed;
    renumbered, layout; counts (a big text), more (a long list).
    """

    kind: str
    old_line: int | None
    new_line: int | None
    old: str
    new: str
    text: str
