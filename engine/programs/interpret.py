"""What a line of words does: modes change, the path goes on, the ledger is written.

Lengths are in the program's unit (see `modal`). The order within a line is the
standard's: modes, F, S, T and M6 first, then what is not modal, then motion,
whatever the order of the words. No word can make this raise.

Sources: NISTIR 6556, 3.3.5 (order of words), 3.5 (G codes), 3.6 (M codes), 3.8
(order of execution); section numbers from memory. G50, G52, G65, G68, G95 to
G97, M98: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Literal

from engine.views.programs import Call, CodeUse, Feed, Speed, Unit

from .codes import clashing_groups
from .cycles import CYCLES, drill
from .dialect import Dialect
from .ledger import LIMIT, Ledger
from .modal import INDEX, INVERSE_TIME, PER_MINUTE, PER_REVOLUTION, PLANES, SHORT_NUMBER, Modal
from .path import Path, Targets
from .words import ProgramLine, Word

WordMap = Mapping[str, Word]
UNIT_CODES: dict[str, Unit] = {"G20": "in", "G21": "mm"}
OFFSETS = frozenset(["G54", "G55", "G56", "G57", "G58", "G59", "G54.1", "G59.1", "G59.2", "G59.3"])
STOPS = frozenset({"M0", "M1", "M60"})  # NISTIR 6556, 3.6.1
THREADS = frozenset({"G32", "G33"})
MOTIONS = frozenset({"G0", "G1", "G2", "G3", "G38.2", "G80"}) | THREADS | CYCLES
FRAMES = frozenset({"G16", "G51", "G51.1", "G52", "G68"})  # coordinates mean something else
SHIFTS = frozenset({"G50", "G92"})
REFERENCES = frozenset({"G28", "G30"})
MACROS = frozenset({"G65", "G66"})


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

    def apply(self, line: ProgramLine, path: Path) -> Call | None:
        """Carry out one line; the subprogram call on it, if there is one."""
        number = line.number
        codes = [w.code for w in line.words if w.letter == "G" and w.value is not None]
        m_codes = [w.code for w in line.words if w.letter == "M" and w.value is not None]
        words = {w.letter: w for w in line.words if w.letter not in "GM"}
        for group in clashing_groups(codes + m_codes):
            self.ledger.problem(number, "group", f"two codes of one group: {group}")
        for item in line.not_evaluated:
            self.ledger.notes.add("flow" if item.kind == "flow" else "expression", number)
        for code in codes:
            self._set_mode(code, words, path, number)
        self._settings(codes, words, path, number)
        for code in m_codes:
            if code in STOPS:
                self.ledger.stops.add(CodeUse(number, code, "stop", line.block_delete))
            elif code == "M6":
                self.ledger.change(number)
        if not self._not_modal(codes, words, path, number):
            self.move(self._axes(words, path, number), words, path, number)
        return self._call(line, codes, m_codes, words, path)

    def _set_mode(self, code: str, words: WordMap, path: Path, line: int) -> None:
        modal = path.modal
        unit = UNIT_CODES.get(code)
        if unit is not None:
            self.ledger.units.add(CodeUse(line, code, "units"))
            if self.program_unit is None:
                self.program_unit = unit
                if self.moved:
                    self.ledger.notes.add("late_units", line)
            modal.change_unit(unit, self.program_unit)
        elif code in OFFSETS:
            which = words.get("P")
            numbered = code == "G54.1" and which is not None and which.value is not None
            self.ledger.offset(f"{code} {which.code}" if numbered and which else code, line)
        mode = self._modes.get(code)
        if mode is None or (code in SHIFTS and "S" in words):
            return
        if mode == ("surface", False) and modal.surface:
            modal.speed = None
        if mode[0] == "motion" and mode[1] != modal.motion:
            modal.frozen.clear()
        if mode[0] == "feed_mode" and mode[1] != modal.feed_mode:
            modal.feed = None  # a number of another kind: F must be given anew
        setattr(modal, mode[0], mode[1])
        modal.update_rate()

    def _settings(self, codes: list[str], words: WordMap, path: Path, line: int) -> None:
        """F, S and T words."""
        feed, speed, tool = words.get("F"), words.get("S"), words.get("T")
        modal = path.modal
        if feed is not None:
            if feed.value is None:
                modal.feed = None
                modal.update_rate()
            else:
                self.set_feed(feed.value, path, line)
        if speed is not None and speed.value is not None and not SHIFTS.isdisjoint(codes):
            self.ledger.clamp(Speed(line, speed.value))
            modal.clamp = float(speed.value)
        elif speed is not None:
            if speed.value is not None:
                self.ledger.speed(Speed(line, speed.value, modal.surface))
            modal.speed = None if speed.value is None else float(speed.value)
            modal.update_rate()
        if tool is not None and tool.value is not None:
            self.ledger.select(line, int(tool.value), tool.text)

    def set_feed(self, value: Decimal, path: Path, line: int) -> None:
        """An F word, in the unit in force (NISTIR 6556, 3.7.1, from memory)."""
        modal = path.modal
        if float(value) == modal.feed:
            return
        if value < 0:
            self.ledger.problem(line, "feed", "F below zero")
        self.ledger.feeds.add_once((value, modal.feed_mode), Feed(line, value, modal.feed_mode))
        modal.feed = float(value) if value > 0 else None
        modal.update_rate()

    def _axes(self, words: WordMap, path: Path, line: int) -> Targets:
        """Axis words as absolute targets; an axis that is not evaluated becomes unknown."""
        plain: Targets = []
        steps: Targets = []
        for letter, word in words.items():
            stepped = self._increments.get(letter)
            axis = INDEX.get(letter) if stepped is None else stepped
            if axis is None:
                continue
            if word.value is None:
                path.modal.pos[axis] = None
                path.notes.add("axis_expression", line)
            elif stepped is None:
                plain.append((axis, float(word.value)))
            else:
                steps += path.step(axis, float(word.value), line)
        if self._drills(path):
            return plain
        return path.aim(plain, line) + steps

    def _drills(self, path: Path) -> bool:
        return self.dialect.drilling_cycles and path.modal.motion in CYCLES

    def move(self, axes: Targets, words: WordMap, path: Path, line: int) -> None:
        """Motion by the motion code in force; `axes` as typed in a drilling cycle, else aimed."""
        modal = path.modal
        motion = modal.motion
        numbers = {k: float(w.value) for k, w in words.items() if w.value is not None}
        arc = motion in {"G2", "G3"}
        if not axes and not (arc and not {"I", "J", "K"}.isdisjoint(numbers)):
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

    def _not_modal(self, codes: list[str], words: WordMap, path: Path, line: int) -> bool:
        """Codes that use up the line's axis words; whether there was one."""
        for code in codes:
            if code == "G4":
                self._dwell(words, path)
            elif code == "G10":
                parts = [code, *(words[k].code for k in "LP" if k in words)]
                self.ledger.offset_writes.add(CodeUse(line, " ".join(parts), "offset write"))
            elif code in REFERENCES:
                self._reference(code, words, path, line)
            elif code == "G53":
                self._machine_move(words, path, line)
            elif code in SHIFTS and code not in self.dialect.turning_cycles:
                self._shift(words, path, line)
            elif code in FRAMES:
                path.notes.add("frame", line)
                path.modal.forget_position()
            elif code in self.dialect.turning_cycles and code not in self._modes:
                points = {k: words[k] for k in "XYZ" if k in words}
                self._unfollowed(self._axes(points, path, line), path, line)
            elif code not in MACROS:
                continue
            return True
        return False

    def _dwell(self, words: WordMap, path: Path) -> None:
        """G4: P in the dialect's unit (seconds, 3.5.4); X or U in seconds, common practice."""
        for letter, unit in (("P", self.dialect.dwell_seconds), ("X", 1.0), ("U", 1.0)):
            word = words.get(letter)
            if word is not None and word.value is not None and word.value > 0:
                path.dwell += float(word.value) * unit
                return

    def _reference(self, code: str, words: WordMap, path: Path, line: int) -> None:
        """G28, G30: by way of the given point to a place that the text does not name."""
        self.ledger.reference_moves.add(CodeUse(line, code, "reference"))
        path.linear(self._axes(words, path, line), line, rapid=True)
        self._lose(words, path)

    def _lose(self, words: WordMap, path: Path) -> None:
        """The position of the axes named is not known any more; of all if none is named."""
        named = [self._increments.get(k, INDEX.get(k)) for k in words]
        for axis in [a for a in named if a is not None] or list(INDEX.values()):
            path.modal.pos[axis] = None

    def _machine_move(self, words: WordMap, path: Path, line: int) -> None:
        """G53 (NISTIR 6556, 3.5.12, from memory): absolute, in machine coordinates."""
        for letter, word in words.items():
            axis = INDEX.get(letter)
            if axis is not None and letter not in self._increments and word.value is not None:
                scale = 1.0 if letter in "ABC" else path.modal.scale
                path.machine_box.take(axis, float(word.value) * scale, line)
        self._lose(words, path)

    def _shift(self, words: WordMap, path: Path, line: int) -> None:
        """G92 X.. (and G50 X.. on a lathe): where the axes stand is now called so."""
        for letter, word in words.items():
            axis = INDEX.get(letter)
            if axis is None:
                continue
            path.notes.add("frame", line)
            scale = 1.0 if letter in "ABC" else path.modal.scale
            path.modal.pos[axis] = None if word.value is None else float(word.value) * scale

    def _call(
        self, line: ProgramLine, codes: list[str], m_codes: list[str], words: WordMap, path: Path
    ) -> Call | None:
        """M98 P L, or G65 P: what the called program starts with is kept, where it ends is not."""
        code: Literal["M98", "G65"] | None = "M98" if "M98" in m_codes else None
        code = "G65" if "G65" in codes else code
        if code is None:
            return None
        which, times = words.get("P"), words.get("L")
        program = which.value if which is not None else None
        repeats = times.value if times is not None and times.value is not None else Decimal(1)
        call = Call(line.number, code, program, repeats, line.block_delete)
        self.ledger.calls.add(call)
        if program is not None and len(self.entry) < LIMIT:
            for number in (int(program), int(program) % SHORT_NUMBER):
                self.entry.setdefault(number, path.modal.snapshot())
        path.modal.forget_position()
        return call
