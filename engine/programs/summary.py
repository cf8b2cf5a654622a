"""From what was noted to frozen facts: rounded to 1e-6, in the program's unit and in mm.

The main program is the first that is not itself called from this text. Its
times hold those of the programs it calls, as often as it calls them; extents
hold every program of the text, called or not.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.views.programs import AfterEnd, Bounded, Extent, ProgramStart, ProgramTimes, Unit
from schemas.factors import MM_PER_UNIT

from .modal import AXES, ROTARY, SHORT_NUMBER
from .path import Box
from .program import ProgramBuilder, ProgramSection

DIGITS = 6


@dataclass(slots=True)
class _Sum:
    minutes: float = 0.0
    dwell: float = 0.0
    rapid: float = 0.0
    cut: float = 0.0

    def add(self, other: _Sum, times: float) -> None:
        self.minutes += other.minutes * times
        self.dwell += other.dwell * times
        self.rapid += other.rapid * times
        self.cut += other.cut * times


def main_section(builder: ProgramBuilder) -> ProgramSection:
    """The main program: the first with a code, unless an M98 of this text calls it."""
    used = [section for section in builder.sections if section.used] or builder.sections
    called = {number for section in used for number in section.calls}
    return next((section for section in used if section.number not in called), used[0])


def times(builder: ProgramBuilder, main: ProgramSection) -> ProgramTimes:
    """Estimated times and lengths of the main program with what it calls."""
    numbered: dict[int, ProgramSection] = {}
    for section in builder.sections:
        if section.number is not None:
            numbered.setdefault(section.number, section)
    total = _total(main, numbered, builder, {})
    return ProgramTimes(
        round(total.minutes * 60.0, DIGITS),
        round(total.dwell, DIGITS),
        round(total.rapid, DIGITS),
        round(total.cut, DIGITS),
    )


def _total(
    section: ProgramSection,
    numbered: dict[int, ProgramSection],
    builder: ProgramBuilder,
    known: dict[int, _Sum | None],
) -> _Sum:
    """A program's own sums and those of its calls; `known` holds None while one is at work."""
    path = section.path
    total = _Sum(path.minutes, path.dwell, path.rapid_length, path.cut_length)
    known[id(section)] = None
    for number, repeats in section.calls.items():
        times_called, called = repeats, numbered.get(number)
        if called is None and number >= SHORT_NUMBER:
            called = numbered.get(number % SHORT_NUMBER)
            times_called = repeats * (number // SHORT_NUMBER)
        if called is None:
            builder.ledger.notes.add("call_outside", section.call_lines[number])
            continue
        if id(called) not in known:
            known[id(called)] = _total(called, numbered, builder, known)
        found = known[id(called)]
        if found is None:
            builder.ledger.notes.add("call_loop", section.call_lines[number])
        elif times_called > 0:
            if times_called > 1 and called.path.relative:
                builder.ledger.notes.add("call_repeated", section.call_lines[number])
            total.add(found, times_called)
    return total


def extents(boxes: list[Box], unit: Unit | None) -> dict[str, Extent]:
    """Extents by axis letter, in the order X Y Z A B C U V W; only axes that moved."""
    whole = Box()
    for box in boxes:
        whole.merge(box)
    factor = MM_PER_UNIT.get(unit or "")
    found: dict[str, Extent] = {}
    for axis, letter in enumerate(AXES):
        low, high = whole.low[axis], whole.high[axis]
        if low > high:
            continue
        in_mm = None if axis in ROTARY else factor
        found[letter] = Extent(
            letter,
            round(low, DIGITS),
            round(high, DIGITS),
            None if in_mm is None else round(low * in_mm, DIGITS),
            None if in_mm is None else round(high * in_mm, DIGITS),
            whole.low_line[axis],
            whole.high_line[axis],
        )
    return found


def starts(builder: ProgramBuilder) -> Bounded[ProgramStart]:
    """The programs of the text, in order."""
    found = [ProgramStart(s.line, s.number, s.first) for s in builder.sections if s.used]
    return Bounded(tuple(found), len(found))


def after_end(main: ProgramSection) -> AfterEnd | None:
    """Text after the main program's end, up to the next O number or `%`."""
    return AfterEnd(main.after_line, main.after_lines) if main.after_lines else None
