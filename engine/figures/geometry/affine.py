"""Least squares of p = origin + c·u + r·v over pockets (column, row); x and y share one design.

Plain numbers in one unit. The design is made orthogonal column by column, so
that pockets in one row or on one line are fitted as far as they determine
anything, and no matrix is inverted.

Source: leverage and deleted residuals: Belsley, Kuh, Welsch, Regression
Diagnostics, 1980, ch. 2 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import hypot

from schemas.pocket import Pocket

PlanePoint = tuple[float, float]

_NOTHING = 1e-9
CHECKED = 0.05  # share of its own mistake that a pocket must show to count as checked


@dataclass(frozen=True, slots=True)
class Design:
    """Which pockets there are, and how they lean on each other."""

    pockets: tuple[Pocket, ...]
    columns: tuple[tuple[float, ...], ...]  # orthonormal, the constant one first

    def shows(self, one: int, other: int) -> float:
        """How much of a mistake at one pocket shows at the other: an entry of I − H."""
        leans = sum(column[one] * column[other] for column in self.columns)
        return (1.0 if one == other else 0.0) - leans

    def alike(self, one: int, other: int) -> float:
        """1 where mistakes at two pockets leave the same residuals, or none; 0 where unlike."""
        own, his = self.shows(one, one), self.shows(other, other)
        if own < CHECKED or his < CHECKED:
            return 1.0
        cosine: float = abs(self.shows(one, other)) / (own * his) ** 0.5
        return cosine

    def residuals(self, points: Mapping[Pocket, PlanePoint]) -> list[PlanePoint]:
        """What is left over at each pocket."""
        left = [points[pocket] for pocket in self.pockets]
        for column in self.columns:
            x = sum(c * p[0] for c, p in zip(column, left, strict=True))
            y = sum(c * p[1] for c, p in zip(column, left, strict=True))
            left = [(p[0] - c * x, p[1] - c * y) for c, p in zip(column, left, strict=True)]
        return left

    def left_out(self, points: Mapping[Pocket, PlanePoint]) -> list[float | None]:
        """How far each pocket lies from the grid of all others; None where they do not say."""
        found: list[float | None] = []
        for i, (x, y) in enumerate(self.residuals(points)):
            own = self.shows(i, i)
            found.append(None if own < CHECKED else hypot(x, y) / own)
        return found


def design(pockets: Iterable[Pocket]) -> Design:
    """The design of some pockets, in the order given."""
    order = tuple(pockets)
    if not order:
        return Design((), ())
    raw = [[1.0] * len(order), [float(c) for c, _ in order], [float(r) for _, r in order]]
    columns: list[tuple[float, ...]] = []
    for values in raw:
        left = values
        for column in columns:
            share = sum(a * b for a, b in zip(column, left, strict=True))
            left = [value - share * c for c, value in zip(column, left, strict=True)]
        length = hypot(*left)
        if length > _NOTHING * (1 + hypot(*values)):
            columns.append(tuple(value / length for value in left))
    return Design(order, tuple(columns))


@dataclass(frozen=True, slots=True)
class Affine:
    """The fitted grid: place of r1c1, one column on, one row on."""

    origin: PlanePoint
    u: PlanePoint | None  # None where the pockets do not tell
    v: PlanePoint | None

    def at(self, pocket: Pocket) -> PlanePoint:
        """Place of a pocket; a direction that was not told counts as none."""
        (column, row), u, v = pocket, self.u or (0.0, 0.0), self.v or (0.0, 0.0)
        return (
            self.origin[0] + column * u[0] + row * v[0],
            self.origin[1] + column * u[1] + row * v[1],
        )


def solve(points: Mapping[Pocket, PlanePoint]) -> Affine | None:
    """The grid by least squares; None where pockets lie aslant on one line, or are none."""
    n = len(points)
    if not n:
        return None
    c0, r0 = sum(c for c, _ in points) / n, sum(r for _, r in points) / n
    scc = sum((c - c0) ** 2 for c, _ in points)
    srr = sum((r - r0) ** 2 for _, r in points)
    scr = sum((c - c0) * (r - r0) for c, r in points)
    both = scc * srr - scr**2
    if scc > _NOTHING and srr > _NOTHING and both < _NOTHING * scc * srr:
        return None
    mean = tuple(sum(p[k] for p in points.values()) / n for k in (0, 1))
    u, v = [0.0, 0.0], [0.0, 0.0]
    for k in (0, 1):
        scx = sum((c - c0) * (p[k] - mean[k]) for (c, _), p in points.items())
        srx = sum((r - r0) * (p[k] - mean[k]) for (_, r), p in points.items())
        if scc > _NOTHING and srr > _NOTHING:
            u[k], v[k] = (srr * scx - scr * srx) / both, (scc * srx - scr * scx) / both
        elif scc > _NOTHING:
            u[k] = scx / scc
        elif srr > _NOTHING:
            v[k] = srx / srr
    origin = (mean[0] - c0 * u[0] - r0 * v[0], mean[1] - c0 * u[1] - r0 * v[1])
    return Affine(
        origin,
        (u[0], u[1]) if scc > _NOTHING else None,
        (v[0], v[1]) if srr > _NOTHING else None,
    )
