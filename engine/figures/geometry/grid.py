"""Where the grid of the tray moves the axes, and in which order its pockets come.

`across` counts along a row, x runs from left to right and y from near to far as the
tray lies. Steps are mm of the axis for one column and for one row.
"""

from __future__ import annotations

from engine.figures.cell import along_of, is_rotary, sign_of
from engine.figures.inputs import Facts, Missing, gather
from schemas.pocket import Pocket, name_of

MOST_POCKETS = 10_000  # more is a slip of the key, and no tray


def size(facts: Facts) -> tuple[int, int]:
    """Pockets in a row and number of rows, each at least 1, or `Missing`."""
    across, along = gather(lambda: _count(facts, "across"), lambda: _count(facts, "along"))
    if across * along > MOST_POCKETS:
        raise Missing("tray.across", "tray.along")
    return across, along


def _count(facts: Facts, way: str) -> int:
    count = int(facts.number(f"tray.{way}"))
    if count < 1:
        raise Missing(f"tray.{way}")
    return count


def used(facts: Facts) -> list[Pocket]:
    """The pockets in use, row by row. `Missing` tray.unused where none is left."""
    return facts.once("grid.used", lambda: _used(facts))


def _used(facts: Facts) -> list[Pocket]:
    across, along = size(facts)
    unused = frozenset(facts.find("tray.unused") or ())
    every = ((c, r) for r in range(along) for c in range(across))
    left = [pocket for pocket in every if not unused or name_of(pocket) not in unused]
    if not left:
        raise Missing("tray.unused")
    return left


def in_order(facts: Facts) -> list[Pocket]:
    """The pockets in use in the order of the cell's path over the grid."""
    facts.need_cell()
    path = facts.text("cell:bed.path")
    return sorted(used(facts), key=lambda pocket: _place_on(path, pocket))


def _place_on(path: str, pocket: Pocket) -> tuple[int, int]:
    line, step = pocket if path.startswith("column") else (pocket[1], pocket[0])
    back = path.endswith("back and forth") and line % 2 == 1
    return line, -step if back else step


def step_of(facts: Facts, axis: str) -> tuple[float, float]:
    """How far an axis moves over the tray: (for one column, for one row), in mm, signed."""
    return facts.once(f"grid.step.{axis}", lambda: _step(facts, axis))


def _step(facts: Facts, axis: str) -> tuple[float, float]:
    facts.need_cell()
    across, along = size(facts)
    columns = _one_way(facts, axis, "across") if across > 1 else 0.0
    rows = _one_way(facts, axis, "along") if along > 1 else 0.0
    return columns, rows


def mover(facts: Facts, way: str) -> str:
    """The axis that goes along a row (`across`) or from row to row (`along`), or `Missing`."""
    facts.need_cell()
    return facts.text(f"cell:bed.{way}_axis")


def _one_way(facts: Facts, axis: str, way: str) -> float:
    """Pitch as a way of this axis, by its sign and r1c1's corner; 0 where another makes it."""
    if mover(facts, way) != axis:
        return 0.0
    pitch, direction = gather(
        lambda: facts.length(f"tray.pitch_{way}"), lambda: direction_of(facts, axis, way)
    )
    return pitch * direction


def direction_of(facts: Facts, axis: str, way: str) -> int:
    """1 where the axis' value grows with columns (`across`) or rows (`along`), else -1."""
    sign, away = gather(lambda: sign_of(facts, axis), lambda: _away(facts, axis, way))
    return sign * away


def _away(facts: Facts, axis: str, way: str) -> int:
    """1 where the grid runs as x or y does, -1 where it runs against it."""
    if is_rotary(facts, axis):  # a regular grid is no even steps of an angle
        raise Missing(f"cell:bed.{way}_axis")
    along = along_of(facts, axis)
    if along not in ("x", "y"):
        raise Missing(f"cell:axes.{axis}.along")
    away = "left" if along == "x" else "near"
    return 1 if away in facts.text("cell:bed.corner") else -1
