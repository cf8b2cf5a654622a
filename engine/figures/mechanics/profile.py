"""How long one stretch of a move takes: speed rises, holds and falls in straight lines.

Everything here is plain numbers in one unit of way (mm, deg or a share of a path),
seconds, and that unit per second or second squared. Speeds are at least zero,
limits above zero. The speed never jumps and never passes a limit; within that
each time is the shortest there is. Jerk is not limited.

Source: Lynch and Park, Modern Robotics, 2017, section 9.2, trapezoidal motion
profiles (from memory); unequal braking and ends that are not at rest follow from
the same sums (v² = v0² + 2·a·s).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt


@dataclass(frozen=True, slots=True)
class Limits:
    """Top speed, acceleration and braking along one way; all above zero."""

    speed: float
    acceleration: float
    braking: float

    def at(self, percent: float) -> Limits:
        """The same at a percentage of full speed; acceleration and braking stay. At most 100."""
        return Limits(self.speed * min(percent, 100.0) / 100.0, self.acceleration, self.braking)


@dataclass(frozen=True, slots=True)
class LastStretch:
    """The last stretch before rest, with a speed of its own."""

    length: float
    speed: float


def slowest(limits: tuple[Limits, ...], ways: tuple[float, ...]) -> Limits:
    """What all axes allow along a common path, as a share of it: the smallest of each.

    `ways` are what each axis goes on the path; those that stand still allow anything.
    """
    speed = acceleration = braking = inf
    for one, way in zip(limits, ways, strict=True):
        if way:
            share = 1.0 / abs(way)
            speed = min(speed, one.speed * share)
            acceleration = min(acceleration, one.acceleration * share)
            braking = min(braking, one.braking * share)
    return Limits(speed, acceleration, braking)


def peak(distance: float, limits: Limits, start: float = 0.0, end: float = 0.0) -> float:
    """The highest speed on a stretch that begins at `start` and ends at `end` speed."""
    if distance <= 0:
        return max(start, end)
    a, b = limits.acceleration, limits.braking
    reached = sqrt((2 * a * b * distance + b * start * start + a * end * end) / (a + b))
    return max(min(limits.speed, reached), start, end)


def seconds(distance: float, limits: Limits, start: float = 0.0, end: float = 0.0) -> float:
    """The shortest time for a stretch; from rest to rest d/v + v/2·(1/a + 1/b), or a triangle.

    `start` and `end` are speeds within the limit that the stretch has room for.
    """
    top = peak(distance, limits, start, end)
    if distance <= 0 or top <= 0:
        return 0.0
    a, b = limits.acceleration, limits.braking
    rising = (top * top - start * start) / (2 * a)
    falling = (top * top - end * end) / (2 * b)
    steady = max(0.0, distance - rising - falling)
    return (top - start) / a + (top - end) / b + steady / top


@dataclass(frozen=True, slots=True)
class Share:
    """A whole path as 1, from rest to rest without an approach, at any percentage of speed.

    The same sums as `seconds` and `peak`, with what a percentage leaves alone done
    once: a tray has many pockets and a lot many stages.
    """

    speed: float
    triangle: float  # the speed at which it never holds steady
    halves: float  # (1/a + 1/b) / 2

    @staticmethod
    def of(limits: Limits) -> Share:
        """From full speed, acceleration and braking as shares of the path; inf stands still."""
        a, b = limits.acceleration, limits.braking
        if a == inf:
            return Share(inf, 0.0, 0.0)
        return Share(limits.speed, sqrt(2 * a * b / (a + b)), (a + b) / (2 * a * b))

    def top(self, percent: float) -> float:
        """The highest speed that is reached."""
        return min(self.speed * min(percent, 100.0) / 100.0, self.triangle)

    def seconds(self, percent: float) -> float:
        """The shortest time."""
        top = self.top(percent)
        return 1 / top + top * self.halves if top else 0.0


def joint(distance: float, limits: Limits, approach: LastStretch) -> tuple[float, float, float]:
    """Where a move gives over to its approach: (main way, approach way, speed there).

    The main move ends at the approach speed, or below it where it is too short
    to reach it, or where the approach is too short to come to rest from it. An
    approach that is longer than the whole move is the whole move.
    """
    last = min(approach.length, distance)
    main = distance - last
    at_joint = min(
        approach.speed,
        limits.speed,
        sqrt(2 * limits.acceleration * main),
        sqrt(2 * limits.braking * last),
    )
    return main, last, at_joint


def seconds_to_rest(distance: float, limits: Limits, approach: LastStretch | None = None) -> float:
    """The shortest time from rest to rest, the last stretch at its own speed.

    The approach is never faster than `limits.speed`; the speed is the same on
    both sides of the place where it begins.
    """
    if approach is None or approach.length <= 0 or distance <= 0:
        return seconds(distance, limits)
    main, last, between = joint(distance, limits, approach)
    slow = Limits(min(approach.speed, limits.speed), limits.acceleration, limits.braking)
    return seconds(main, limits, 0.0, between) + seconds(last, slow, between, 0.0)


def peak_to_rest(distance: float, limits: Limits, approach: LastStretch | None = None) -> float:
    """The highest speed on a move from rest to rest with its approach."""
    if approach is None or approach.length <= 0 or distance <= 0:
        return peak(distance, limits)
    main, last, between = joint(distance, limits, approach)
    slow = Limits(min(approach.speed, limits.speed), limits.acceleration, limits.braking)
    return max(peak(main, limits, 0.0, between), peak(last, slow, between, 0.0))


def stopping_distance(speed: float, reaction: float, braking: float) -> float:
    """Way run from seeing to standing: v·t + v²/(2·b)."""
    return speed * reaction + speed * speed / (2 * braking)
