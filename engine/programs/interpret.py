"""What a line of words does: modes change, the path goes on, the ledger is written.

Lengths are in the program's unit (see `modal`). The order within a line is the
standard's: modes, F, S, T and M6 first, then what is not modal, then motion,
whatever the order of the words. No word can make this raise.

Sources: NISTIR 6556, 3.3.5 (order of words), 3.5 (G codes), 3.6 (M codes), 3.8
(order of execution); section numbers from memory. G50, G52, G65, G68, G95 to
G97, M98: common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from engine.views.programs import Call, CodeUse, Feed, Unit

from .block import Block, Numbers
from .codes import spell
from .cycles import CYCLES, drill
from .dialect import Dialect
from .ledger import LIMIT, Ledger
from .modal import INDEX, INVERSE_TIME, PER_MINUTE, PER_REVOLUTION, PLANES, SHORT_NUMBER, Modal
from .path import Path, Targets

UNIT_CODES: dict[str, Unit] = {"G20": "in", "G21": "mm"}
OFFSETS = frozenset(["G54", "G55", "G56", "G57", "G58", "G59", "G54.1", "G59.1", "G59.2", "G59.3"])
STOPS = frozenset({"M0", "M1", "M60"})  # NISTIR 6556, 3.6.1
THREADS = frozenset({"G32", "G33"})
MOTIONS = frozenset({"G0", "G1", "G2", "G3", "G38.2", "G80"}) | THREADS | CYCLES
FRAMES = frozenset({"G16", "G51", "G51.1", "G52", "G68"})  # coordinates mean something else
SHIFTS = frozenset({"G50", "G92"})
REFERENCES = frozenset({"G28", "G30"})
MACROS = frozenset({"G65", "G66"})
_CENTRE = frozenset("IJK")
_OF_RATE = frozenset({"feed_mode", "surface"})  # modes that a rate follows from


def modes_of(dialect: Dialect) -> dict[str, tuple[str, object]]:
    """Code -> the field of `Modal` that it sets, and to what."""
    modes: dict[str, tuple[str, object]] = {plane: ("plane", plane) for plane in PLANES}
    modes |= {code: ("motion", code) for code in MOTIONS}
    modes |= {"G90": ("absolute", True), "G91": ("absolute", False)}
    modes |= {"G90.1": ("centre_absolute", True), "G91.1": ("centre_absolute", False)}
    modes |= {"G98": ("back_to_r", False), "G99": ("back_to_r", True)}
    modes |= {"G96": ("surface", True), "G97": ("surface", False)}
    modes |= {"G93": ("feed_mode", INVERSE_TIME)}
    modes |= dict.fromkeys(dialect.per_minute, ("feed_mode", PER_MINUTE))
    modes |= dict.fromkeys(dialect.per_revolution, ("feed_mode", PER_REVOLUTION))
    modes |= {code: ("motion", code) for code in dialect.turning_cycles & {"G90", "G92", "G94"}}
    for code in dialect.turning_cycles - {"G90", "G92", "G94"}:
        modes.pop(code, None)
    return modes


def special_codes(dialect: Dialect) -> frozenset[str]:
    """Codes that use up the axis words of their line."""
    cycles = dialect.turning_cycles - modes_of(dialect).keys()
    return frozenset({"G4", "G10", "G53"}) | (
        REFERENCES | FRAMES | MACROS | cycles | (SHIFTS - dialect.turning_cycles)
    )


class Interpreter:
    """Carries out lines on a path. `program_unit`: of all lengths; None until it is known."""

    def __init__(self, dialect: Dialect, ledger: Ledger) -> None:
        self.dialect = dialect
        self.ledger = ledger
        self.program_unit: Unit | None = dialect.units
        self.entry: dict[int, Modal] = {}  # what a called program starts with
        self._modes = modes_of(dialect)
        self._increments = {u: INDEX[axis] for u, axis in dialect.increments}
        self.moved = False  # whether anything has moved yet

    def apply(self, block: Block, line: int, path: Path) -> Call | None:
        """Carry out one line; the subprogram call on it, if there is one."""
        codes, numbers = block.codes, block.numbers
        for group in codes.clashes:
            self.ledger.problem(line, "group", f"two codes of one group: {group}")
        for code in codes.codes:
            self._set_mode(code, block, path, line)
        if "F" in numbers or "S" in numbers or "T" in numbers:
            self._settings(block, path, line)
        for code in codes.m_codes:
            if code in STOPS:
                self.ledger.stops.add(CodeUse, line, code, "stop", block.block_delete)
            elif code == "M6":
                self.ledger.change(line)
        if codes.special is not None:
            self._not_modal(codes.special, block, path, line)
        elif numbers:
            self.move(self._axes(numbers, path, line), numbers, path, line)
        return self._call(block, line, path) if codes.calls else None

    def _set_mode(self, code: str, block: Block, path: Path, line: int) -> None:
        modal = path.modal
        unit = UNIT_CODES.get(code)
        if unit is not None:
            self.ledger.units.add(CodeUse, line, code, "units")
            if self.program_unit is None:
                self.program_unit = unit
                if self.moved:
                    self.ledger.notes.add("late_units", line)
            modal.change_unit(unit, self.program_unit)
        elif code in OFFSETS:
            numbered = code == "G54.1" and block.numbers.get("P") is not None
            self.ledger.offset(f"{code} {_code(block, 'P')}" if numbered else code, line)
        mode = self._modes.get(code)
        if mode is None or (code in SHIFTS and "S" in block.numbers):
            return
        if mode == ("surface", False) and modal.surface:
            modal.speed = None
        if mode[0] == "motion" and mode[1] != modal.motion:
            modal.frozen.clear()
        if mode[0] == "feed_mode" and mode[1] != modal.feed_mode:
            modal.feed = None  # a number of another kind: F must be given anew
        setattr(modal, mode[0], mode[1])
        if mode[0] in _OF_RATE:
            modal.update_rate()

    def _settings(self, block: Block, path: Path, line: int) -> None:
        """F, S and T words."""
        numbers, texts, modal = block.numbers, block.texts, path.modal
        feed, speed = numbers.get("F"), numbers.get("S")
        if feed is not None:
            if feed != modal.feed:
                self.set_feed(Decimal(texts["F"]), path, line)
        elif "F" in numbers:
            modal.feed = None
            modal.update_rate()
        if speed is not None and not SHIFTS.isdisjoint(block.codes.codes):
            self.ledger.clamp(line, Decimal(texts["S"]))
            modal.clamp = speed
        elif "S" in numbers:
            if speed is not None:
                self.ledger.speed(line, Decimal(texts["S"]), modal.surface)
            modal.speed = speed
            modal.update_rate()
        if numbers.get("T") is not None:
            self.ledger.select(line, int(Decimal(texts["T"])), texts["T"])

    def set_feed(self, value: Decimal, path: Path, line: int) -> None:
        """An F word, in the unit in force (NISTIR 6556, 3.7.1, from memory)."""
        modal = path.modal
        if float(value) == modal.feed:
            return
        if value < 0:
            self.ledger.problem(line, "feed", "F below zero")
        mode = modal.feed_mode
        self.ledger.feeds.add_once((value, mode), Feed, line, value, mode)
        modal.feed = float(value) if value > 0 else None
        modal.update_rate()

    def _axes(self, words: Numbers, path: Path, line: int) -> Targets:
        """Axis words as absolute targets; an axis that is not evaluated becomes unknown."""
        plain: Targets = []
        steps: Targets = []
        for letter, value in words.items():
            stepped = self._increments.get(letter)
            axis = INDEX.get(letter) if stepped is None else stepped
            if axis is None:
                continue
            if value is None:
                path.modal.pos[axis] = None
                path.notes.add("axis_expression", line)
            elif stepped is None:
                plain.append((axis, value))
            else:
                steps += path.step(axis, value, line)
        if self._drills(path):
            return plain
        return path.aim(plain, line) + steps

    def _drills(self, path: Path) -> bool:
        return self.dialect.drilling_cycles and path.modal.motion in CYCLES

    def move(self, axes: Targets, words: Numbers, path: Path, line: int) -> None:
        """Motion by the motion code in force; `axes` as typed in a drilling cycle, else aimed."""
        modal = path.modal
        motion = modal.motion
        arc = motion in {"G2", "G3"}
        if not axes and not arc:
            return
        numbers = {letter: value for letter, value in words.items() if value is not None}
        if not axes and _CENTRE.isdisjoint(numbers):
            return
        self.moved = True
        wrong: str | None = None
        if arc:
            scale = modal.scale
            offsets = {i: numbers[k] * scale for i, k in enumerate("IJK") if k in numbers}
            radius = numbers["R"] * scale if "R" in numbers else None
            wrong = path.arc(axes, line, motion == "G2", offsets, radius)
        elif self._drills(path) and motion is not None:
            wrong = drill(path, motion, axes, numbers, line)
        elif motion in CYCLES or motion in self.dialect.turning_cycles:
            self._unfollowed(axes, path, line)
        elif motion in THREADS:
            self._thread(axes, path, line)
        else:
            if motion is None or motion == "G80":
                path.notes.add("no_motion_code", line)
            path.linear(axes, line, rapid=motion in {None, "G0", "G80"})
        if wrong is not None:
            self.ledger.problem(line, "arc" if arc else "cycle", wrong)

    def _unfollowed(self, axes: Targets, path: Path, line: int) -> None:
        """Points of a cycle count in the extents; the position stays where it was."""
        path.notes.add("cycle", line)
        for axis, value in axes:
            path.box.take(axis, value, line)

    def _thread(self, axes: Targets, path: Path, line: int) -> None:
        """F is the lead: feed per revolution, whatever feed mode is in force."""
        modal = path.modal
        mode, modal.feed_mode = modal.feed_mode, PER_REVOLUTION
        modal.update_rate()
        path.linear(axes, line, rapid=False)
        modal.feed_mode = mode
        modal.update_rate()

    def _not_modal(self, code: str, block: Block, path: Path, line: int) -> None:
        """A code that uses up the line's axis words; a macro call does nothing with them."""
        words = block.numbers
        if code == "G4":
            self._dwell(words, path)
        elif code == "G10":
            parts = [code, *(_code(block, letter) for letter in "LP" if letter in words)]
            self.ledger.offset_writes.add(CodeUse, line, " ".join(parts), "offset write")
        elif code in REFERENCES:
            self._reference(code, words, path, line)
        elif code == "G53":
            self._machine_move(words, path, line)
        elif code in SHIFTS and code not in self.dialect.turning_cycles:
            self._shift(words, path, line)
        elif code in FRAMES:
            path.notes.add("frame", line)
            path.modal.forget_position()
        elif code not in MACROS:
            points = {letter: words[letter] for letter in "XYZ" if letter in words}
            self._unfollowed(self._axes(points, path, line), path, line)

    def _dwell(self, words: Numbers, path: Path) -> None:
        """G4: P in the dialect's unit (seconds, 3.5.4); X or U in seconds, common practice."""
        for letter, unit in (("P", self.dialect.dwell_seconds), ("X", 1.0), ("U", 1.0)):
            value = words.get(letter)
            if value is not None and value > 0:
                path.dwell += value * unit
                return

    def _reference(self, code: str, words: Numbers, path: Path, line: int) -> None:
        """G28, G30: by way of the given point to a place that the text does not name."""
        self.ledger.reference_moves.add(CodeUse, line, code, "reference")
        path.linear(self._axes(words, path, line), line, rapid=True)
        self._lose(words, path)

    def _lose(self, words: Numbers, path: Path) -> None:
        """The position of the axes named is not known any more; of all if none is named."""
        named = [self._increments.get(k, INDEX.get(k)) for k in words]
        for axis in [a for a in named if a is not None] or list(INDEX.values()):
            path.modal.pos[axis] = None

    def _machine_move(self, words: Numbers, path: Path, line: int) -> None:
        """G53 (NISTIR 6556, 3.5.12, from memory): absolute, in machine coordinates."""
        for letter, value in words.items():
            axis = INDEX.get(letter)
            if axis is not None and letter not in self._increments and value is not None:
                scale = 1.0 if letter in "ABC" else path.modal.scale
                path.machine_box.take(axis, value * scale, line)
        self._lose(words, path)

    def _shift(self, words: Numbers, path: Path, line: int) -> None:
        """G92 X.. (and G50 X.. on a lathe): where the axes stand is now called so."""
        for letter, value in words.items():
            axis = INDEX.get(letter)
            if axis is None:
                continue
            path.notes.add("frame", line)
            scale = 1.0 if letter in "ABC" else path.modal.scale
            path.modal.pos[axis] = None if value is None else value * scale

    def _call(self, block: Block, line: int, path: Path) -> Call:
        """M98 P L, or G65 P: what the called program starts with is kept, where it ends is not."""
        code: Literal["M98", "G65"] = "G65" if "G65" in block.codes.codes else "M98"
        numbers, texts = block.numbers, block.texts
        program = None if numbers.get("P") is None else Decimal(texts["P"])
        repeats = Decimal(1) if numbers.get("L") is None else Decimal(texts["L"])
        call = Call(line, code, program, repeats, block.block_delete)
        self.ledger.calls.add(lambda: call)
        if program is not None and len(self.entry) < LIMIT:
            for number in (int(program), int(program) % SHORT_NUMBER):
                self.entry.setdefault(number, path.modal.snapshot())
        path.modal.forget_position()
        return call


def _code(block: Block, letter: str) -> str:
    """A word in one spelling; as it was typed where it is not evaluated."""
    text = block.texts[letter]
    return letter + text if block.numbers[letter] is None else spell(letter, Decimal(text))
