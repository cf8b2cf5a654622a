"""Where the grid of the tray moves the axes, and in which order its pockets come.

A pocket is (column, row), counted from zero at r1c1; `across` counts along a
row, x runs from left to right and y from near to far as the tray lies. Steps are
mm of the axis for one column and for one row.
"""

from __future__ import annotations

from engine.figures.geometry.axes import axis_of, cell_of, sign_of
from engine.figures.model import Facts, Missing, gather, known

MOST_POCKETS = 10_000  # more is a slip of the key, and no tray

Pocket = tuple[int, int]


def name_of(pocket: Pocket) -> str:
    """A pocket as people write it: r2c5."""
    return f"r{pocket[1] + 1}c{pocket[0] + 1}"


def size(facts: Facts) -> tuple[int, int]:
    """Pockets in a row and number of rows, each at least 1, or `Missing`."""
    tray = facts.record.tray
    missing = [
        f"tray.{name}"
        for name, count in (("across", tray.across), ("along", tray.along))
        if count is None or count < 1
    ]
    if missing:
        raise Missing(*missing)
    assert tray.across is not None
    assert tray.along is not None
    if tray.across * tray.along > MOST_POCKETS:
        raise Missing("tray.across", "tray.along")
    return tray.across, tray.along


def used(facts: Facts) -> list[Pocket]:
    """The pockets in use, row by row. `Missing` tray.unused where none is left."""
    return facts.once("grid.used", lambda: _used(facts))


def _used(facts: Facts) -> list[Pocket]:
    across, along = size(facts)
    unused = frozenset(facts.record.tray.unused or ())
    every = ((c, r) for r in range(along) for c in range(across))
    left = [pocket for pocket in every if not unused or name_of(pocket) not in unused]
    if not left:
        raise Missing("tray.unused")
    return left


def in_order(facts: Facts) -> list[Pocket]:
    """The pockets in use in the order of the cell's path over the grid."""
    path = known(cell_of(facts).bed.path, "cell:bed.path")
    return sorted(used(facts), key=lambda pocket: _place_on(path, pocket))


def _place_on(path: str, pocket: Pocket) -> tuple[int, int]:
    line, step = pocket if path.startswith("column") else (pocket[1], pocket[0])
    back = path.endswith("back and forth") and line % 2 == 1
    return line, -step if back else step


def step_of(facts: Facts, axis: str) -> tuple[float, float]:
    """How far an axis moves over the tray: (for one column, for one row), in mm, signed."""
    return facts.once(f"grid.step.{axis}", lambda: _step(facts, axis))


def _step(facts: Facts, axis: str) -> tuple[float, float]:
    bed, (across, along) = cell_of(facts).bed, size(facts)
    columns = _one_way(facts, axis, bed.across_axis, "across") if across > 1 else 0.0
    rows = _one_way(facts, axis, bed.along_axis, "along") if along > 1 else 0.0
    return columns, rows


def _one_way(facts: Facts, axis: str, mover: str | None, way: str) -> float:
    """Signed pitch of one way of the grid on this axis; 0 where another axis makes it."""
    if known(mover, f"cell:bed.{way}_axis") != axis:
        return 0.0
    return _signed_pitch(facts, axis, way)


def _signed_pitch(facts: Facts, axis: str, way: str) -> float:
    """The pitch as a way of the axis: its sign, and from which corner the grid counts."""

    def pitch() -> float:
        return facts.length(f"tray.pitch_{way}")[0]

    distance, direction = gather(pitch, lambda: direction_of(facts, axis, way))
    return distance * direction


def direction_of(facts: Facts, axis: str, way: str) -> int:
    """1 where the axis' value grows with columns (`across`) or rows (`along`), else -1."""
    sign, away = gather(lambda: sign_of(facts, axis), lambda: _away(facts, axis, way))
    return sign * away


def _away(facts: Facts, axis: str, way: str) -> int:
    """1 where the grid runs as x or y does, -1 where it runs against it."""
    moving, corner = axis_of(facts, axis), cell_of(facts).bed.corner
    if moving.kind == "rotary":  # a regular grid is no even steps of an angle
        raise Missing(f"cell:bed.{way}_axis")
    if moving.along not in ("x", "y"):
        raise Missing(f"cell:axes.{axis}.along")
    away = "left" if moving.along == "x" else "near"
    return 1 if away in known(corner, "cell:bed.corner") else -1
