"""Figures of the grid through taught pockets, and in words which pocket to teach next.

How the grid is fitted, and why pockets are named together, stands in
`engine.figures.geometry.tray_fit`. Lengths are mm, angles degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import hypot

from engine.figures.geometry import grid as nominal
from engine.figures.geometry.affine import PlanePoint
from engine.figures.geometry.pockets import pitch_of
from engine.figures.geometry.taught_pockets import taught_points
from engine.figures.geometry.tray_fit import MOST_CULPRITS, TrayFit, fit_tray
from engine.figures.inputs import Facts, Missing, both, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge
from schemas.pocket import Pocket, name_of

_SOURCE = (
    "least squares, worked; leverage and deleted residuals: Belsley, Kuh, Welsch, Regression "
    "Diagnostics, 1980, ch. 2 (from memory)"
)
_FIT = "p = origin + column x u + row x v through the taught pockets by least squares; "
DISAGREE = FigureKind(
    "taught pockets disagree",
    "tray fit",
    "mm",
    _FIT + "the largest distance of a pocket from the grid of all others: residual/(1 − leverage). "
    "Three pockets always fit; four corners do not say which is wrong",
    _SOURCE,
    "most",
    section="tray.taught",
)
OFF = FigureKind(
    "off the written grid",
    "tray fit",
    "mm",
    "the largest distance of a taught pocket from where r1c1 and the written pitches put it",
    "arithmetic",
    "most",
    section="tray.taught",
)
PITCH = FigureKind(
    "fitted pitch", "tray fit", "mm", _FIT + "length of u or v", _SOURCE, section="tray.taught"
)
ROTATION = FigureKind(
    "rotation",
    "tray fit",
    "deg",
    _FIT + "direction of u from that of the axis across, as the grid counts",
    _SOURCE,
    section="tray.taught",
)
SKEW = FigureKind(
    "skew",
    "tray fit",
    "deg",
    _FIT + "angle between u and v, less 90°",
    _SOURCE,
    section="tray.taught",
)


@dataclass(frozen=True, slots=True)
class _Taught:
    """The taught pockets in mm, what they are held against, and what they say."""

    points: Mapping[Pocket, PlanePoint]
    tolerance: float
    fit: TrayFit


def tray_fit_of(facts: Facts) -> TrayFit:
    """What the taught pockets of a record say; `Missing` names what that needs."""
    return _taught(facts).fit


def _taught(facts: Facts) -> _Taught:
    return facts.once("tray_fit", lambda: _fitted(facts))


def _fitted(facts: Facts) -> _Taught:
    points, size = both(lambda: taught_points(facts), lambda: nominal.size(facts))
    tolerance = facts.number("policy:agreement_tolerance")
    return _Taught(points, tolerance, fit_tray(points, tolerance, size))


def figures(facts: Facts) -> list[Figure]:
    """What the taught pockets say about the grid; nothing where none was taught besides r1c1."""
    if not facts.keys("tray.taught"):
        return []
    try:
        taught = _taught(facts)
    except Missing:
        return [judge(facts, DISAGREE, "tray", lacking(partial(_taught, facts)))]
    found = [_disagreement(facts, taught.fit), _off(facts, taught)]
    for kind, at, name in (
        (PITCH, "across", "pitch_across"),
        (PITCH, "along", "pitch_along"),
        (ROTATION, "tray", "rotation"),
        (SKEW, "tray", "skew"),
    ):
        if getattr(taught.fit, name) is not None:
            found.append(judge(facts, kind, at, partial(_number, facts, name)))
    return found


def _number(facts: Facts, name: str) -> float:
    return float(getattr(tray_fit_of(facts), name))


def _ask_for(facts: Facts, address: str) -> float:
    """`Missing` a pocket that is yet to be taught; what was taught so far is asked, too."""
    _taught(facts)
    raise Missing(address)


def _tolerance(facts: Facts) -> float:
    return _taught(facts).tolerance


def in_words(fit: TrayFit) -> str:
    """Which pockets are suspect, and which to teach next."""
    names = ", ".join(map(name_of, fit.suspects))
    then = f"; teach {name_of(fit.teach_next)} next" if fit.teach_next else ""
    if fit.verdict == "fits":
        return ""
    if fit.verdict == "cannot tell":
        return f"nothing checks {names}{then}"
    if len(fit.suspects) == 1:
        return f"{names} is off, the others agree{then}"
    if fit.culprits > MOST_CULPRITS:
        return f"several of {names} are off, or the plate is{then}"
    if fit.culprits == 1:
        return f"one of {names} is off, which one cannot be told{then}"
    return f"two of {names} are off, which ones cannot be told{then}"


def _disagreement(facts: Facts, fit: TrayFit) -> Figure:
    note = in_words(fit)
    if fit.verdict == "cannot tell":
        after = name_of(fit.teach_next) if fit.teach_next else "r1c1"
        gap = partial(_ask_for, facts, f"tray.taught.{after}")
        return replace(judge(facts, DISAGREE, "tray", gap, note=note), value=fit.worst)
    worst, limit = partial(_number, facts, "worst"), partial(_tolerance, facts)
    return judge(facts, DISAGREE, "tray", worst, limit, note=note)


def _off(facts: Facts, taught: _Taught) -> Figure:
    """Against r1c1 as taught and the written pitches; the worst pocket is its place."""
    if (0, 0) not in taught.points:
        return judge(facts, OFF, "tray", partial(_ask_for, facts, "tray.taught.r1c1"))
    try:
        worst, _ = _furthest(facts)
    except Missing:
        return judge(facts, OFF, "tray", lacking(partial(_furthest, facts)))
    limit = partial(_tolerance, facts)
    return judge(facts, OFF, name_of(worst), lambda: _furthest(facts)[1], limit)


def _furthest(facts: Facts) -> tuple[Pocket, float]:
    """The pocket furthest from where the written pitches put it, and how far that is."""
    across, along = both(lambda: pitch_of(facts, "across"), lambda: pitch_of(facts, "along"))
    points = _taught(facts).points
    x0, y0 = points[0, 0]
    distances = {
        (c, r): hypot(x - x0 - c * across, y - y0 - r * along) for (c, r), (x, y) in points.items()
    }
    worst = max(distances, key=lambda pocket: distances[pocket])
    return worst, distances[worst]
