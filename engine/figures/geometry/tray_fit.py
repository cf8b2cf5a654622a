"""The grid through taught pockets by least squares, and which pocket can be wrong.

Points and tolerance are in one unit (mm in the figures), angles in degrees.
What the data cannot tell apart is named together: no pocket is blamed that
another could stand for, and none is cleared that the others say nothing about.
Three pockets always fit; with four corners all four stand for each other; with
the centre besides, a corner and its opposite do.

A pocket is judged by how far it lies from the grid of all others (its residual
divided by 1 − leverage), since four corners show only a quarter of a mistake.

Source: leverage and deleted residuals: Belsley, Kuh, Welsch, Regression
Diagnostics, 1980, ch. 2 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from math import atan2, degrees, hypot
from typing import Literal

from engine.figures.geometry.affine import CHECKED, Affine, Design, PlanePoint, design, solve
from schemas.pocket import Pocket, by_row

MOST_CULPRITS = 2
MOST_FOR_PAIRS = 24  # taught pockets up to which pairs of culprits are looked for
MOST_ASKED = 8  # suspects that the next pocket is chosen for
MOST_CANDIDATES = 15  # rows and columns that are looked at for the next pocket

TrayVerdict = Literal["fits", "does not fit", "cannot tell"]


@dataclass(frozen=True, slots=True)
class TrayFit:
    """What the taught pockets say, pocket by pocket as they were given."""

    verdict: TrayVerdict
    grid: Affine | None
    residuals: Mapping[Pocket, PlanePoint]
    left_out: Mapping[Pocket, float | None]  # distance from the grid of all others, None: no check
    suspects: tuple[Pocket, ...]  # any of them may be wrong; the data does not say which
    culprits: int  # how many of them are wrong at least; 0 where nothing is
    twins: tuple[tuple[Pocket, ...], ...]  # pockets whose mistakes look the same, right or wrong
    teach_next: Pocket | None

    @property
    def pitch_across(self) -> float | None:
        """Length of one column."""
        return hypot(*self.grid.u) if self.grid and self.grid.u else None

    @property
    def pitch_along(self) -> float | None:
        """Length of one row."""
        return hypot(*self.grid.v) if self.grid and self.grid.v else None

    @property
    def rotation(self) -> float | None:
        """Direction of a row of pockets, in degrees from x, -180 to 180."""
        return _angle(self.grid.u) if self.grid and self.grid.u else None

    @property
    def skew(self) -> float | None:
        """Degrees by which rows and columns are more (+) or less (-) than square to each other."""
        if not (self.grid and self.grid.u and self.grid.v):
            return None
        (a, b), (c, d) = self.grid.u, self.grid.v
        return abs(degrees(atan2(a * d - b * c, a * c + b * d))) - 90.0

    @property
    def worst(self) -> float | None:
        """The largest distance of a pocket from the grid of all others."""
        told = [distance for distance in self.left_out.values() if distance is not None]
        return max(told, default=None)


def fit_tray(
    points: Mapping[Pocket, PlanePoint], tolerance: float, size: tuple[int, int] | None = None
) -> TrayFit:
    """Fit taught pockets {(column, row): (x, y)}; `size` is (columns, rows) of the tray.

    Without it, only pockets between the taught ones are proposed to be taught next.
    """
    plan = design(points)
    left_out = plan.left_out(points)
    suspects, culprits = _suspects(points, plan, tolerance)
    verdict: TrayVerdict = "does not fit" if suspects else "fits"
    if not suspects and (len(plan.pockets) < 3 or None in left_out):
        verdict = "cannot tell"
        suspects = tuple(p for p, off in zip(plan.pockets, left_out, strict=True) if off is None)
    return TrayFit(
        verdict,
        solve(points),
        dict(zip(plan.pockets, plan.residuals(points), strict=True)),
        dict(zip(plan.pockets, left_out, strict=True)),
        suspects,
        culprits,
        _twins(plan),
        None if verdict == "fits" else _next(plan, suspects, size),
    )


def _agrees(points: Mapping[Pocket, PlanePoint], tolerance: float) -> bool:
    """Whether no pocket is found further than the tolerance from the grid of the others."""
    told = design(points).left_out(points)
    return all(distance is None or distance <= tolerance + 1e-9 for distance in told)


def _suspects(
    points: Mapping[Pocket, PlanePoint], plan: Design, tolerance: float
) -> tuple[tuple[Pocket, ...], int]:
    """All pockets whose mistake would explain what is seen; the fewest at a time."""
    if _agrees(points, tolerance):
        return (), 0
    most = MOST_CULPRITS if len(plan.pockets) <= MOST_FOR_PAIRS else 1
    for culprits in range(1, most + 1):
        found: set[Pocket] = set()
        for some in combinations(plan.pockets, culprits):
            if _agrees({p: xy for p, xy in points.items() if p not in some}, tolerance):
                found.update(some)
        if found:
            found |= _likeliest(points, plan, tolerance) if culprits == 1 else set()
            return tuple(p for p in plan.pockets if p in found), culprits
    return plan.pockets, most + 1


def _likeliest(points: Mapping[Pocket, PlanePoint], plan: Design, tolerance: float) -> set[Pocket]:
    """Pockets without which the least is left over, or so little that noise may have made it."""
    residuals = plan.residuals(points)
    whole = sum(x * x + y * y for x, y in residuals)
    left: dict[Pocket, float] = {}
    for i, (pocket, (x, y)) in enumerate(zip(plan.pockets, residuals, strict=True)):
        own = plan.shows(i, i)
        left[pocket] = whole - (x * x + y * y) / own if own >= CHECKED else whole
    most = max(min(left.values()), (tolerance / 2) ** 2)
    return {pocket for pocket, rest in left.items() if rest <= most}


def _twins(plan: Design) -> tuple[tuple[Pocket, ...], ...]:
    """Groups of pockets whose mistakes leave the same residuals."""
    left, groups = list(range(len(plan.pockets))), []
    while left:
        first = left.pop(0)
        group = [first, *(other for other in left if plan.alike(first, other) > 1 - 1e-6)]
        left = [other for other in left if other not in group]
        if len(group) > 1:
            groups.append(tuple(plan.pockets[i] for i in group))
    return tuple(groups)


def _next(
    plan: Design, suspects: tuple[Pocket, ...], size: tuple[int, int] | None
) -> Pocket | None:
    """The pocket after which the suspects look least alike, and all are checked best.

    Where no pocket tells them apart, the first suspect is to be taught again.
    """
    candidates = [pocket for pocket in _candidates(plan, size) if pocket not in plan.pockets]
    asked = (suspects or plan.pockets)[:MOST_ASKED]
    if not candidates or not asked:
        return suspects[0] if suspects else (0, 0) if size else None
    ranks = {pocket: _rank(plan, asked, pocket) for pocket in candidates}
    return min(candidates, key=lambda pocket: (ranks[pocket], by_row(pocket)))


def _rank(plan: Design, asked: tuple[Pocket, ...], pocket: Pocket) -> tuple[float, float]:
    """How alike the asked pockets remain with this one taught, and how badly they are checked."""
    longer = design((*plan.pockets, pocket))
    places = [plan.pockets.index(one) for one in asked]
    alike = max((longer.alike(a, b) for a, b in combinations(places, 2)), default=0.0)
    return round(alike, 6), round(-min(longer.shows(i, i) for i in places), 6)


def _candidates(plan: Design, size: tuple[int, int] | None) -> list[Pocket]:
    if size is not None:
        columns, rows = _spread(0, size[0] - 1), _spread(0, size[1] - 1)
    elif plan.pockets:
        columns = _spread(min(c for c, _ in plan.pockets), max(c for c, _ in plan.pockets))
        rows = _spread(min(r for _, r in plan.pockets), max(r for _, r in plan.pockets))
    else:
        return []
    return [(column, row) for row in rows for column in columns]


def _spread(first: int, last: int) -> list[int]:
    """All from first to last, or as many as are looked at, evenly spread."""
    span, most = last - first, MOST_CANDIDATES - 1
    if span <= most:
        return list(range(first, last + 1))
    return sorted({first + round(i * span / most) for i in range(most + 1)})


def _angle(vector: PlanePoint) -> float:
    return degrees(atan2(vector[1], vector[0]))
