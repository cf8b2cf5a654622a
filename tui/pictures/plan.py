"""The tray from above, as the person at its near side sees it: far side on top.

Invariant: the number in a pocket is the engine's order of fetching, and nothing
here knows or shows what has been fetched. The labels of rows and columns meet at
r1c1, where the tray has it. Lengths are in the record's unit.
"""

from __future__ import annotations

from itertools import zip_longest

from rich.cells import cell_len

from engine.figures.geometry import grid
from engine.figures.geometry.axes import cell_of
from engine.figures.geometry.tray_plate import pocket
from engine.figures.model import Facts, Missing, both, gather, known
from tui.pictures.drawing import DrawnTray, drawn
from tui.pictures.grids import How, Want, size_for
from tui.pictures.legend import legend
from tui.pictures.reaching import Reach, reaches
from tui.pictures.signs import NARROWEST, cannot_tell, finish, signs, words
from tui.safe import fit

_BESIDE = 26  # cells that the legend needs to stand beside the tray
_AROUND = 8  # lines around the grid: heading, edges, labels, a short legend below
_USUAL = 0.8  # of the pitch is pocket, where nobody said
_HOWS: tuple[How, ...] = ("pockets", "numbers", "signs")


def tray_plan(
    facts: Facts, width: int = 80, *, ascii_only: bool = False, height: int = 20
) -> list[str]:
    """The plan with its legend; `height` is the number of lines that it keeps to if it can."""
    inner = max(width, NARROWEST)
    try:
        lines = _lines(facts, inner, ascii_only, height)
    except Missing as error:
        lines = cannot_tell(error.addresses, inner, "tray")
    return finish(lines, width, ascii_only)


def _lines(facts: Facts, width: int, ascii_only: bool, height: int) -> list[str]:
    sign = signs(ascii_only)
    order, (path, corner) = _told(facts)
    reach = _reach(facts)
    out = [one.out for one in reach] if isinstance(reach, list) else []
    across, along = grid.size(facts)
    round_ones = facts.record.tray.pocket_shape != "rectangle"
    shown = DrawnTray(across, along, order, frozenset().union(*out), corner, path, round_ones)
    widths = {how: width - shown.gutter(how, sign) - 5 for how in _HOWS}
    size = size_for(_want(facts), len(str(len(order))), widths, height - _AROUND)
    entries = legend(facts, shown, size, reach)
    plan = drawn(shown, size, sign)
    return [*words(_heading(facts, shown), width), *_beside(plan, entries, width)]


def _told(facts: Facts) -> tuple[dict[grid.Pocket, int], tuple[str, str]]:
    """Numbers from 1 in the order of fetching; path and corner in the cell's words."""

    def bed(name: str) -> str:
        return str(known(getattr(cell_of(facts).bed, name), f"cell:bed.{name}"))

    _, (path, corner) = both(
        lambda: grid.used(facts), lambda: gather(lambda: bed("path"), lambda: bed("corner"))
    )
    order = {pocket: number for number, pocket in enumerate(grid.in_order(facts), 1)}
    return order, (path, corner)


def _reach(facts: Facts) -> list[Reach] | Missing:
    try:
        return reaches(facts)
    except Missing as error:
        return error


def _want(facts: Facts) -> Want:
    """The grid's proportions; what of them is not known is taken as usual, and told."""
    across, along = grid.size(facts)
    x = _told_length(facts, "tray.pitch_across")
    y = _told_length(facts, "tray.pitch_along")
    x, y = x or y or 1.0, y or x or 1.0
    try:
        well = pocket(facts)
    except Missing:
        well = (_USUAL * x, _USUAL * y)
    return Want(across, along, x / y, well[0] / x, well[1] / y)


def _told_length(facts: Facts, address: str) -> float:
    try:
        return max(facts.length(address)[0], 0.0)
    except Missing:
        return 0.0


def _heading(facts: Facts, shown: DrawnTray) -> str:
    plate = facts.record.tray.plate
    name = f"Tray {plate}" if plate else "Tray"
    every, used = shown.columns * shown.rows, len(shown.order)
    count = f"{every} pockets" if used == every else f"{used} of {every} pockets in use"
    return f"{name}: {shown.columns} across, {shown.rows} along, {count}"


def _beside(plan: list[str], entries: list[str], width: int) -> list[str]:
    """Plan and legend side by side where there is room, else one over the other."""
    taken = max(cell_len(line) for line in plan) + 3
    if width - taken >= _BESIDE:
        told = [line for entry in entries for line in words(entry, width - taken)]
        if len(told) <= len(plan):
            pairs = zip_longest(plan, told, fillvalue="")
            return [fit(one, taken) + other for one, other in pairs]
    return plan + [line for entry in entries for line in words(entry, width)]
