"""Where the axes go and how long it takes: lengths in the program's unit, time in minutes.

Extents hold every programmed end point and every extreme of an arc; radius and
tool length compensation are not applied (they are set up at the machine). X
counts as programmed, so as a diameter where the dialect says so; lengths are
true ones.

Sources: NISTIR 6556, 3.5.1 to 3.5.3 (moves; arc tolerance from memory), 2.1.2.5
(feed of linear and of rotary axes, from memory); time = length / feed.
"""

from __future__ import annotations

import math

from .dialect import Dialect
from .geometry import Arc, arc_about, arc_of_radius, extremes
from .modal import AXES, INVERSE_TIME, PER_REVOLUTION, PLANES, ROTARY, Caveats, Modal

Targets = list[tuple[int, float]]  # axis index and absolute value in the program's unit
PathPoint = tuple[float, float]  # along u and v of the plane, true lengths
ARC_SLACK = {"mm": 0.002, "in": 0.0002}  # NISTIR 6556, 3.5.3.2, from memory


class Box:
    """Lowest and highest value of each axis, each with the line it was on."""

    __slots__ = ("high", "high_line", "low", "low_line")

    def __init__(self) -> None:
        self.low = [math.inf] * len(AXES)
        self.high = [-math.inf] * len(AXES)
        self.low_line = [0] * len(AXES)
        self.high_line = [0] * len(AXES)

    def take(self, axis: int, value: float, line: int) -> None:
        """Let the box hold `value`."""
        if value < self.low[axis]:
            self.low[axis] = value
            self.low_line[axis] = line
        if value > self.high[axis]:
            self.high[axis] = value
            self.high_line[axis] = line

    def holds(self, axis: int, low: float, high: float, factor: float) -> bool:
        """Whether it holds all from `low` to `high`, both `factor` times what is programmed."""
        return self.low[axis] <= low / factor and high / factor <= self.high[axis]

    def merge(self, other: Box) -> None:
        """Let this box hold all that `other` holds."""
        for axis in range(len(AXES)):
            if other.low[axis] <= other.high[axis]:
                self.take(axis, other.low[axis], other.low_line[axis])
                self.take(axis, other.high[axis], other.high_line[axis])


class Path:
    """Motion of one program or subprogram: `modal` moves on, boxes and sums grow."""

    __slots__ = (
        "box",
        "cut_length",
        "dialect",
        "dwell",
        "machine_box",
        "minutes",
        "modal",
        "notes",
        "rapid_length",
        "relative",
        "x_before",
        "x_factor",
    )

    def __init__(self, modal: Modal, dialect: Dialect, notes: Caveats) -> None:
        self.modal = modal
        self.dialect = dialect
        self.notes = notes
        self.box = Box()
        self.machine_box = Box()
        self.minutes = 0.0
        self.dwell = 0.0
        self.rapid_length = 0.0
        self.cut_length = 0.0
        self.relative = False  # whether anything moved by increments
        self.x_before: float | None = None
        self.x_factor = 0.5 if dialect.x_is_diameter else 1.0

    def aim(self, words: Targets, line: int) -> Targets:
        """Axis words as typed -> absolute targets in the program's unit (G90, G91, unit)."""
        modal = self.modal
        targets: Targets = []
        for axis, typed in words:
            value = typed if axis in ROTARY else typed * modal.scale
            if not modal.absolute:
                self.relative = True
                start = modal.pos[axis]
                if start is None:
                    self.notes.add("unknown_increment", line)
                    continue
                value += start
            targets.append((axis, value))
        return targets

    def step(self, axis: int, typed: float, line: int) -> Targets:
        """Target of a word that is always an increment, as U for X (common practice)."""
        self.relative = True
        start = self.modal.pos[axis]
        if start is None:
            self.notes.add("unknown_increment", line)
            return []
        return [(axis, start + (typed if axis in ROTARY else typed * self.modal.scale))]

    def linear(self, targets: Targets, line: int, rapid: bool) -> None:
        """A straight move to `targets`."""
        self.x_before = self.modal.pos[0]
        length = self._arrive(targets, line)
        if rapid:
            self.rapid_length += length or 0.0
        elif length is None:
            self.notes.add("unknown_start", line)
        else:
            self.cut(length, line)

    def _arrive(self, targets: Targets, line: int) -> float | None:
        """Move the position; the straight length, or None if a start was not known.

        Length of the linear axes; of the rotary ones, in degrees, if only those move.
        """
        pos, box = self.modal.pos, self.box
        low, high = box.low, box.high
        square = turned = 0.0
        known = True
        for axis, value in targets:
            start = pos[axis]
            pos[axis] = value
            if value < low[axis] or value > high[axis]:
                box.take(axis, value, line)
            if start is None:
                known = False
            elif axis in ROTARY:
                turned += (value - start) ** 2
            else:
                way = (value - start) * (self.x_factor if axis == 0 else 1.0)
                square += way * way
        return math.sqrt(square or turned) if known else None

    def arc(
        self,
        targets: Targets,
        line: int,
        clockwise: bool,
        offsets: dict[int, float],
        radius: float | None,
    ) -> str | None:
        """An arc or helix. `offsets`: I, J, K by axis index, in program units, radii for X.

        Returns what is wrong with it in words, or None. An arc that cannot be
        worked out moves the position to its end.
        """
        modal, box = self.modal, self.box
        u, v, third = PLANES[modal.plane]
        pos = modal.pos
        self.x_before, before = pos[0], pos[third]
        start_u, start_v = end_u, end_v = pos[u], pos[v]
        for axis, value in targets:
            if axis == u:
                end_u = value
            elif axis == v:
                end_v = value
        found: Arc | None = None
        wrong: str | None = None
        factor_u, factor_v = self._factor(u), self._factor(v)
        if not (start_u is None or start_v is None or end_u is None or end_v is None):
            start = (start_u * factor_u, start_v * factor_v)
            end = (end_u * factor_u, end_v * factor_v)
            found, wrong = self._solve(
                start, end, clockwise, offsets.get(u), offsets.get(v), radius
            )
        if found is None:
            self.notes.add("arc_not_followed", line)
            self._stand_at(targets, line)
            return wrong
        centre_u, centre_v, reach, _, sweep = found
        if not (
            box.holds(u, centre_u - reach, centre_u + reach, factor_u)
            and box.holds(v, centre_v - reach, centre_v + reach, factor_v)
        ):  # else no point of the arc can make it larger
            for at_u, at_v in extremes(found):
                box.take(u, at_u / factor_u, line)
                box.take(v, at_v / factor_v, line)
        self._stand_at(targets, line)
        after = pos[third]
        rise = 0.0 if before is None or after is None else after - before
        self.cut(math.hypot(reach * abs(sweep), rise * self._factor(third)), line)
        return wrong

    def _stand_at(self, targets: Targets, line: int) -> None:
        """Move the position, however it got there."""
        pos, box = self.modal.pos, self.box
        for axis, value in targets:
            pos[axis] = value
            if value < box.low[axis] or value > box.high[axis]:
                box.take(axis, value, line)

    def _solve(
        self,
        start: PathPoint,
        end: PathPoint,
        clockwise: bool,
        offset_u: float | None,
        offset_v: float | None,
        radius: float | None,
    ) -> tuple[Arc | None, str | None]:
        """The arc, or None if it cannot be told, and what is wrong in words, or None."""
        modal = self.modal
        slack = ARC_SLACK["in" if modal.unit == "in" else "mm"] * modal.scale
        if radius is not None:
            found = arc_of_radius(start, end, radius, clockwise, slack)
            return found, None if found else f"no arc of radius {abs(radius):.6g} joins its ends"
        if offset_u is None and offset_v is None:
            return None, "an arc without centre or radius"
        base_u, base_v = (0.0, 0.0) if modal.centre_absolute else start
        centre = (base_u + (offset_u or 0.0), base_v + (offset_v or 0.0))
        found, differ = arc_about(start, end, centre, clockwise)
        if differ > slack + 1e-9:
            return found, f"the arc's radius differs by {differ:.6g} between start and end"
        return found, None

    def _factor(self, axis: int) -> float:
        return self.x_factor if axis == 0 else 1.0

    def cut(self, length: float, line: int) -> None:
        """Add a cutting length (program units, or degrees of rotary axes) and its time."""
        self.cut_length += length
        modal = self.modal
        if modal.rate:
            self.minutes += length / modal.rate
        elif not modal.feed:
            if length:
                self.notes.add("no_feed", line)
        elif modal.feed_mode == INVERSE_TIME:
            self.minutes += 1.0 / modal.feed  # NISTIR 6556, 3.5.19, from memory
        elif length:
            self._cut_at_surface_speed(length, line)

    def _cut_at_surface_speed(self, length: float, line: int) -> None:
        """Feed per revolution under G96; exact on a straight line without the clamp.

        There the time goes with the diameter, so that its mean gives the whole.
        """
        modal = self.modal
        ends = [x for x in (self.x_before, modal.pos[0]) if x is not None]
        turns = None
        if ends and modal.surface and modal.feed_mode == PER_REVOLUTION:
            mean = sum(abs(x) for x in ends) / len(ends)
            turns = modal.surface_turns(2.0 * mean * self.x_factor)
        if turns and modal.feed:
            self.minutes += length / (modal.feed * modal.scale * turns)
        else:
            self.notes.add("no_speed", line)
