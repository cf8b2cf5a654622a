"""The grid of a tray drawn on lines: pockets, the way from one to the next, edges, labels.

Invariant: every pocket of the columns and rows that are drawn has its number, or
the sign that says what it is. Rows run up from the near side, columns to the
right from the left one, as the corner of r1c1 has it. All signs are one cell.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from engine.views import TrayPlan
from schemas.pocket import Pocket
from tui.pictures.grids import How, Size
from tui.pictures.signs import Signs

UNUSED, USED, OUT = "-", "o", "!"  # where a pocket is one sign; -- and !12! where it is more

Canvas = list[list[str]]


def row_label(tray: TrayPlan, row: int, how: How, sign: Signs) -> str:
    """A row's name; where pockets are small, its direction and its numbers too."""
    name = f"r{row + 1}"
    mine = [(c, tray.order[c, row]) for c in range(tray.columns) if (c, row) in tray.order]
    if how == "pockets" or not by_rows(tray) or len(mine) < 2:
        return name
    grows = (mine[0][1] < mine[-1][1]) == ("left" in tray.corner)
    name = f"{name:<{len(str(tray.rows)) + 1}} {sign.right if grows else sign.left}"
    if how == "numbers":
        return name
    low, high = sorted((mine[0][1], mine[-1][1]))
    return f"{name} {low}-{high}"


def column_way(tray: TrayPlan, column: int, how: How, sign: Signs) -> str:
    """Where the path goes along a column; where pockets are signs, from which number."""
    mine = [(r, tray.order[column, r]) for r in range(tray.rows) if (column, r) in tray.order]
    if len(mine) < 2:
        return ""
    grows = (mine[0][1] < mine[-1][1]) == ("near" in tray.corner)
    first = str(min(mine[0][1], mine[-1][1])) if how == "signs" else ""
    return (sign.up if grows else sign.down) + first


def by_rows(tray: TrayPlan) -> bool:
    """Whether the path goes along rows."""
    return tray.path.startswith("row")


def gutter_of(tray: TrayPlan, how: How, sign: Signs) -> int:
    """Width of the widest label of a row."""
    return max(len(row_label(tray, row, how, sign)) for row in range(tray.rows))


def drawn(tray: TrayPlan, size: Size, sign: Signs) -> list[str]:
    """The plate with its edges, and the labels of rows and columns, which meet at r1c1."""
    columns = size.columns if "left" in tray.corner else size.columns[::-1]
    rows = size.rows[::-1] if "near" in tray.corner else size.rows
    canvas = _grid(tray, size, sign, columns, rows)
    wide = size.cells[0] + 2
    body = [f"{sign.upright} {''.join(line)} {sign.upright}" for line in canvas]
    plate = [
        _edge("far side", wide, sign, *sign.edge[:2]),
        *body,
        _edge("near side", wide, sign, *sign.edge[2:]),
    ]
    named = _with_rows(tray, size, sign, rows, plate)
    gutter = gutter_of(tray, size.how, sign) + 1 if "left" in tray.corner else 0
    labels = [" " * (gutter + 2) + line for line in _column_labels(tray, size, sign, columns)]
    return [*named, *labels] if "near" in tray.corner else [*labels[::-1], *named]


def _edge(name: str, width: int, sign: Signs, left: str, right: str) -> str:
    if width < len(name) + 3:
        return f"{left}{sign.level * width}{right} {name}"
    return left + f"{sign.level} {name} ".ljust(width, sign.level) + right


def _with_rows(
    tray: TrayPlan, size: Size, sign: Signs, rows: tuple[int | None, ...], plate: list[str]
) -> list[str]:
    """The plate with names beside its rows, on the side of the first column."""
    gutter = gutter_of(tray, size.how, sign)
    beside = [""] * len(plate)
    for place, row in enumerate(rows):
        text = "." * 2 if row is None else row_label(tray, row, size.how, sign)
        beside[1 + place * size.along + _number_line(size)] = text
    if "left" in tray.corner:
        return [f"{text:<{gutter}} {line}" for text, line in zip(beside, plate, strict=True)]
    return [f"{line} {text}" for text, line in zip(beside, plate, strict=True)]


def _column_labels(
    tray: TrayPlan, size: Size, sign: Signs, columns: tuple[int | None, ...]
) -> list[str]:
    names: list[tuple[int, str]] = []
    ways: list[tuple[int, str]] = []
    step = _every(tray.columns, size.across)
    for place, column in enumerate(columns):
        if column is None or column % step:
            continue
        middle = place * size.across + size.wide // 2
        names.append((middle, f"c{column + 1}"))
        ways.append((middle, column_way(tray, column, size.how, sign)))
    lines = [_spread(names, size.cells[0])]
    shown = size.how == "pockets" and size.along > size.high
    return lines if by_rows(tray) or shown else [*lines, _spread(ways, size.cells[0])]


def _every(columns: int, across: int) -> int:
    """Every how many columns there is room for a name."""
    need = len(f"c{columns}") + 1
    return next((step for step in (1, 2, 5, 10, 20, 50) if step * across >= need), 100)


def _spread(texts: list[tuple[int, str]], width: int) -> str:
    """Texts set at their middles, none over another, none outside."""
    line, free = [" "] * width, 0
    for middle, text in texts:
        start = max(min(middle - len(text) // 2, width - len(text)), free)
        if start + len(text) <= width:
            line[start : start + len(text)] = text
            free = start + len(text) + 1
    return "".join(line)


def _number_line(size: Size) -> int:
    return 1 if size.high == 3 else 0


def _grid(
    tray: TrayPlan,
    size: Size,
    sign: Signs,
    columns: tuple[int | None, ...],
    rows: tuple[int | None, ...],
) -> Canvas:
    wide, high = size.cells
    canvas = [[" "] * wide for _ in range(high)]
    at: dict[Pocket, tuple[int, int]] = {}
    for y, row in enumerate(rows):
        for x, column in enumerate(columns):
            corner = (x * size.across, y * size.along)
            if row is None or column is None:
                _put(canvas, *corner, sign.dots)
            else:
                at[column, row] = corner
                _pocket(canvas, corner, (column, row), tray, size, sign)
    if size.how == "pockets":
        _path(canvas, at, tray, size, sign)
    return canvas


def _put(canvas: Canvas, x: int, y: int, text: str) -> None:
    canvas[y][x : x + len(text)] = text


def _pocket(
    canvas: Canvas, at: tuple[int, int], pocket: Pocket, tray: TrayPlan, size: Size, sign: Signs
) -> None:
    x, y = at
    number, out = tray.order.get(pocket), pocket in tray.out
    if size.how == "signs":
        _put(canvas, x, y, UNUSED if number is None else OUT if out else USED)
        return
    text = UNUSED * 2 if number is None else f"{number:>{len(str(len(tray.order)))}}"
    if size.how == "numbers":
        _put(canvas, x, y, f"{OUT + text.strip() if out else text:>{size.wide}}")
        return
    inner = size.wide - 2
    corners = sign.round if tray.round else sign.square
    lines = _outline(text.center(inner), inner, size.high, corners, sign)
    if size.high == 1:
        lines = [("({})" if tray.round else "[{}]").format(text.center(inner))]
    if out:
        told = _number_line(size)
        lines[told] = OUT + lines[told][1:-1] + OUT
    for down, line in enumerate(lines):
        _put(canvas, x, y + down, line)


def _outline(text: str, inner: int, high: int, corners: tuple[str, ...], sign: Signs) -> list[str]:
    low = corners[2] + sign.level * inner + corners[3]
    if high == 2:
        return [corners[0] + text + corners[1], low]
    middle = sign.upright + text + sign.upright
    return [corners[0] + sign.level * inner + corners[1], middle, low]


def _path(
    canvas: Canvas, at: Mapping[Pocket, tuple[int, int]], tray: TrayPlan, size: Size, sign: Signs
) -> None:
    """Arrows over the webs between pockets that follow each other."""
    ordered = sorted(tray.order, key=lambda pocket: tray.order[pocket])
    for one, other in pairwise(ordered):
        (x, y), (ahead, below) = at[one], at[other]
        if y == below and abs(ahead - x) == size.across:
            line = sign.level * (size.across - size.wide - 1)
            text = line + sign.right if ahead > x else sign.left + line
            _put(canvas, min(x, ahead) + size.wide, y + _number_line(size), text)
        elif x == ahead and abs(below - y) == size.along:
            gap = size.along - size.high
            signs = sign.upright * (gap - 1)
            text = signs + sign.down if below > y else sign.up + signs
            for down in range(gap):
                top = min(y, below) + size.high + down
                _put(canvas, x + size.wide // 2, top, text[down])
