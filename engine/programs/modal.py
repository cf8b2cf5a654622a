"""What stays in force from line to line; positions are in the program's unit, None if not known.

A position becomes unknown after anything this reader does not follow (a move
in machine coordinates, a reference move, a call, an expression), and an unknown
one never enters an extent or a time.

Sources: NISTIR 6556, 3.5 (modes; default modes from memory); G95, G96 and the
clamp of the speed: common practice, no source.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, field

from engine.views.programs import Note, Unit
from schemas.factors import MM_PER_UNIT

from .dialect import Dialect

AXES = "XYZABCUVW"
INDEX = {letter: index for index, letter in enumerate(AXES)}
ROTARY = frozenset({3, 4, 5})  # A B C turn: degrees, no unit conversion
PLANES = {"G17": (0, 1, 2), "G18": (2, 0, 1), "G19": (1, 2, 0)}  # u, v and the third axis
SHORT_NUMBER = 10_000  # `P51000`: five times program 1000, common practice
PER_MINUTE, PER_REVOLUTION, INVERSE_TIME = "G94", "G95", "G93"

REASONS = {
    "no_feed": "a cutting move without a feed: its time is left out",
    "no_speed": "feed per revolution without a spindle speed: its time is left out",
    "unknown_start": "a cutting move from a position that is not known: its time is left out",
    "unknown_increment": "an increment from a position that is not known: left out",
    "no_motion_code": "axis words before any motion code: read as rapid",
    "arc_not_followed": "an arc that cannot be worked out: only its end is in the extents",
    "expression": "a parameter or an expression: not evaluated",
    "flow": "a jump, a loop or a condition: not followed",
    "frame": "coordinates are shifted, turned or scaled: extents are as programmed",
    "cycle": "a cycle that is not followed: its words are not in extents or times",
    "call_outside": "a call of a program that is not in this text",
    "call_macro": "a macro call: not followed",
    "call_loop": "programs that call each other in a circle: counted once",
    "axis_expression": "an axis word that is not evaluated: its position is not known",
    "call_repeated": "increments of a repeated program: followed once, extents may be larger",
    "block_delete": "lines with `/`: read as carried out",
    "late_units": "moves before the first G20 or G21: read in that unit",
}


class Caveats:
    """Reasons why figures may fall short, each kind once with its first line and a count."""

    def __init__(self) -> None:
        self._seen: dict[str, list[int]] = {}

    def add(self, kind: str, line: int) -> None:
        """Count one more of a kind named in REASONS."""
        self._seen.setdefault(kind, [line, 0])[1] += 1

    def freeze(self) -> tuple[Note, ...]:
        """All notes, in order of their first line."""
        notes = [Note(k, line, count, REASONS[k]) for k, (line, count) in self._seen.items()]
        return tuple(sorted(notes, key=lambda note: (note.line, note.kind)))


@dataclass(slots=True)
class Modal:
    """Modes and position. `feed`, `speed`, `clamp`: as typed; `rate`: program units a minute.

    `rate` is None where it changes along the move or is not known. `scale` turns the unit
    in force into the program's unit. `frozen`: words of the drilling cycle in force.
    """

    plane: str
    unit: Unit | None
    pos: list[float | None] = field(default_factory=lambda: [None] * len(AXES))
    motion: str | None = None
    absolute: bool = True
    centre_absolute: bool = False
    scale: float = 1.0
    feed: float | None = None
    feed_mode: str = PER_MINUTE
    speed: float | None = None
    surface: bool = False
    clamp: float | None = None
    rate: float | None = None
    back_to_r: bool = False
    frozen: dict[str, float] = field(default_factory=dict)

    @classmethod
    def start(cls, dialect: Dialect) -> Modal:
        """Modes at the start of a program."""
        return cls(plane=dialect.plane, unit=dialect.units)

    def snapshot(self) -> Modal:
        """A copy that shares nothing: what a subprogram starts with."""
        other = copy.copy(self)
        other.pos = list(self.pos)
        other.frozen = dict(self.frozen)
        return other

    def forget_position(self) -> None:
        """No axis' position is known any more."""
        self.pos = [None] * len(AXES)

    def change_unit(self, unit: Unit, program_unit: Unit) -> None:
        """G20 or G21: later words count in `unit`, positions stay in the program's."""
        self.unit = unit
        self.scale = 1.0
        if unit != program_unit:
            self.scale = MM_PER_UNIT[unit] / MM_PER_UNIT[program_unit]
        self.update_rate()

    def update_rate(self) -> None:
        """Work out `rate` anew after a change of feed, speed, mode or unit."""
        self.rate = None
        if not self.feed:
            return
        if self.feed_mode == PER_MINUTE:
            self.rate = self.feed * self.scale
        elif self.feed_mode == PER_REVOLUTION and self.speed and not self.surface:
            self.rate = self.feed * self.scale * self.speed

    def surface_turns(self, diameter: float) -> float | None:
        """Spindle 1/min at a diameter (program units) under G96; None if it cannot be told.

        n = 1000 v / (pi d), d in mm and v in m/min; n = 12 v / (pi d), d in inches and
        v in ft/min; never above the clamp. Common practice, no source.
        """
        if not self.speed or self.unit is None:
            return None
        if diameter <= 0.0:
            return self.clamp
        own = diameter / self.scale
        turns = self.speed * (1000.0 if self.unit == "mm" else 12.0) / (math.pi * own)
        return min(turns, self.clamp) if self.clamp else turns
