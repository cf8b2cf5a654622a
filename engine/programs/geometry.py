"""Arcs in one plane: u and v are in one length unit of the caller's, angles in radians.

Counter-clockwise is positive, seen against the third axis. An arc's sweep is
never 0: an arc that ends where it starts is a full circle (centre form) or
does not exist (radius form).

Source: NISTIR 6556, 3.5.3 (radius and centre form; tolerance and the sign of
R from memory), else plane geometry.
"""

from __future__ import annotations

import math
from typing import NamedTuple

FULL = 2.0 * math.pi
_SAME = 1e-9  # of coordinates: closer than any typed digit


class Arc(NamedTuple):
    """Centre, radius, angle at the start, signed sweep (positive: counter-clockwise)."""

    u: float
    v: float
    radius: float
    start: float
    sweep: float


def arc_about(
    start: tuple[float, float],
    end: tuple[float, float],
    centre: tuple[float, float],
    clockwise: bool,
) -> tuple[Arc, float]:
    """Arc about a centre, and how much its two radii differ.

    The radius is the larger of the two, so that extents are never too small.
    """
    (start_u, start_v), (end_u, end_v), (u, v) = start, end, centre
    du, dv = start_u - u, start_v - v
    eu, ev = end_u - u, end_v - v
    first, last = math.hypot(du, dv), math.hypot(eu, ev)
    angle = math.atan2(dv, du)
    if abs(start_u - end_u) <= _SAME and abs(start_v - end_v) <= _SAME:
        sweep = -FULL if clockwise else FULL
    else:
        turn = math.atan2(ev, eu) - angle
        sweep = ((-turn if clockwise else turn) % FULL) or FULL  # in (0, 2 pi]
        sweep = -sweep if clockwise else sweep
    return Arc(u, v, max(first, last), angle, sweep), abs(first - last)


def arc_of_radius(
    start: tuple[float, float],
    end: tuple[float, float],
    radius: float,
    clockwise: bool,
    slack: float,
) -> Arc | None:
    """Arc of a radius; a negative one means more than half a circle.

    None if the ends are one point or further apart than the diameter and `slack`.
    """
    half_u, half_v = (end[0] - start[0]) / 2.0, (end[1] - start[1]) / 2.0
    half = math.hypot(half_u, half_v)
    if half <= _SAME or half - abs(radius) > slack:
        return None
    height = math.sqrt(max(radius * radius - half * half, 0.0))
    # The centre of a short counter-clockwise arc lies to the left of the chord.
    side = height / half * (-1.0 if clockwise != (radius < 0) else 1.0)
    centre = (start[0] + half_u - half_v * side, start[1] + half_v + half_u * side)
    return arc_about(start, end, centre, clockwise)[0]


def extremes(arc: Arc) -> list[tuple[float, float]]:
    """Points of the arc that lie furthest along u or v, its two ends left out."""
    points = []
    for quarter, (along_u, along_v) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
        turn = quarter * math.pi / 2.0 - arc.start
        if (turn if arc.sweep > 0 else -turn) % FULL <= abs(arc.sweep):
            points.append((arc.u + along_u * arc.radius, arc.v + along_v * arc.radius))
    return points
