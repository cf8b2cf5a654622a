"""Whether positions taught at one place agree with what lies between them.

All values mm; directions as the tray lies, z up. Two visits to one place differ
by what was done to the piece: the part is not as tall as the blank, it is held
elsewhere, it was let go above its rest, another gripper has it. What the taught
positions differ by besides that is left over, and that is the figure. Stations
are found by what they do. Positions may be taught in any unit of the axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from engine.figures.cell import scale_of
from engine.figures.geometry.expected import difference, unmoved
from engine.figures.geometry.tool_position import arm_axes, arm_way, directions, loader_axes, where
from engine.figures.geometry.visits import Visit, visits_of
from engine.figures.inputs import Facts, Missing, gather, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge

AGREEMENT = FigureKind(
    "agreement",
    "agreement",
    "mm",
    "what is left over between two taught positions of one place. Along the way out of the place "
    "(up): jaws: collect - seat = (part height - blank height) - (part bite - blank bite) - "
    "release height - (part tip - blank tip); tray: return - fetch = the same with + set-down "
    "height - pick-up height for the release. Across it: the offsets of the grippers turned by "
    "the wrist, the gap that clamping closes, the shift of the middle where held. Loader less "
    "machine axes, each with its sign",
    "geometry; common practice, no source",
    bound="most",
    section="positions",
)


@dataclass(frozen=True, slots=True)
class Left:
    """What is left over in one direction or on one axis of an arm, in mm, signed."""

    visit: Visit
    at: str
    axes: tuple[str, ...]
    taught: float
    expected: float

    @property
    def over(self) -> float:
        """Taught less expected."""
        return self.taught - self.expected


def left_over(facts: Facts, visit: Visit, direction: str) -> Left:
    """What is left over between two visits along x, y or z; `Missing` names what it needs."""
    one, other, expected = gather(
        lambda: where(facts, visit.first, visit, direction),
        lambda: where(facts, visit.second, visit, direction),
        lambda: difference(facts, visit, direction),
    )
    axes = tuple(loader_axes(facts, visit, direction))
    return Left(visit, direction, axes, other - one, expected)


def left_on_arm(facts: Facts, visit: Visit, axis: str) -> Left:
    """The same on an axis that goes no straight way: it is not to move, unless the fingers are."""
    taught, _ = gather(lambda: arm_way(facts, visit, axis), lambda: unmoved(facts, visit, axis))
    return Left(visit, axis, (axis,), taught, 0.0)


def expected_positions(facts: Facts) -> dict[str, float]:
    """Positions that follow from the first taught one of each place, by address, in axis units.

    Of two visits the one that gives or fetches the blank is the taught one, if it
    is taught at all. What cannot be told is not in it. Good to 1e-6 of the unit.
    """
    found: dict[str, float] = {}
    for visit in visits_of(facts):
        for direction in directions(facts, visit):
            found |= _expected(facts, visit, direction)
    return found


def _expected(facts: Facts, visit: Visit, direction: str) -> dict[str, float]:
    axes = loader_axes(facts, visit, direction)
    if len(axes) != 1:  # two axes one way could share it anyhow
        return {}
    axis = axes[0]
    sign, scale = facts.find(f"cell:axes.{axis}.sign") or 1, scale_of(facts, axis)
    for known, wanted, way in ((visit.first, visit.second, 1), (visit.second, visit.first, -1)):
        try:
            there = where(facts, known, visit, direction)
            step = way * difference(facts, visit, direction)
            rest = where(facts, wanted, visit, direction, without=axis)
        except Missing:
            continue
        value = (there + step - rest) * sign / scale
        return {f"positions.{wanted}.{axis}": round(value, 6)}
    return {}


def figures(facts: Facts) -> list[Figure]:
    """What is left over for each place with two visits, direction by direction."""
    try:
        visits = visits_of(facts)
    except Missing:
        return [judge(facts, AGREEMENT, "", lacking(partial(visits_of, facts)))]
    found = []
    for visit in visits:
        found += [_figure(facts, visit, way, on_arm=False) for way in directions(facts, visit)]
        found += [_figure(facts, visit, axis, on_arm=True) for axis in arm_axes(facts, visit)]
    return found


def _figure(facts: Facts, visit: Visit, way: str, *, on_arm: bool) -> Figure:
    def limit() -> float:
        return facts.number("policy:agreement_tolerance")

    def over() -> Left:
        key = f"agreement.{visit.first}.{visit.second}.{way}"
        return facts.once(key, lambda: (left_on_arm if on_arm else left_over)(facts, visit, way))

    def size() -> float:
        return abs(round(over().over, 9))

    try:
        note = _in_words(over(), on_arm=on_arm)
    except Missing:
        note = ""
    at = f"{visit.second} - {visit.first}: {way}"
    look_at = f"positions.{visit.second}"
    return judge(facts, AGREEMENT, at, size, limit, note=note, look_at=look_at)


def _in_words(left: Left, *, on_arm: bool) -> str:
    over = round(left.over, 9) + 0.0  # no minus on zero
    words = f"taught {left.taught:.3f}, expected {left.expected:.3f}: {over:+.3f} mm left over"
    return words if on_arm else f"{words} ({' + '.join(left.axes)})"
