"""The tray from above, as the person at its near side sees it: far side on top.

Invariant: the number in a pocket is the engine's order of fetching, and nothing
here knows or shows what has been fetched. The labels of rows and columns meet at
r1c1, where the tray has it. Lengths are in the record's unit.
"""

from __future__ import annotations

from itertools import zip_longest

from rich.cells import cell_len

from engine.views import CannotTell, TrayPlan
from engine.views.wording import count
from tui.pictures.drawing import drawn, gutter_of
from tui.pictures.grids import How, Want, size_for
from tui.pictures.legend import legend
from tui.pictures.signs import NARROWEST, cannot_tell, finish, signs, words
from tui.safe import fit

_BESIDE = 26  # cells that the legend needs to stand beside the tray
_AROUND = 8  # lines around the grid: heading, edges, labels, a short legend below
_HOWS: tuple[How, ...] = ("pockets", "numbers", "signs")


def tray_plan(
    plan: TrayPlan | CannotTell, width: int = 80, *, ascii_only: bool = False, height: int = 20
) -> list[str]:
    """The plan with its legend; `height` is the number of lines that it keeps to if it can."""
    inner = max(width, NARROWEST)
    if isinstance(plan, CannotTell):
        lines = cannot_tell(plan.missing, inner, "tray")
    else:
        lines = _lines(plan, inner, ascii_only, height)
    return finish(lines, width, ascii_only)


def _lines(plan: TrayPlan, width: int, ascii_only: bool, height: int) -> list[str]:
    sign = signs(ascii_only)
    widths = {how: width - gutter_of(plan, how, sign) - 5 for how in _HOWS}
    size = size_for(_want(plan), len(str(len(plan.order))), widths, height - _AROUND)
    lines = drawn(plan, size, sign)
    return [*words(_heading(plan), width), *_beside(lines, legend(plan, size), width)]


def _want(plan: TrayPlan) -> Want:
    (x, y), (wide, long) = plan.scale.pitch, plan.scale.pocket
    return Want(plan.columns, plan.rows, x / y, wide / x, long / y)


def _heading(plan: TrayPlan) -> str:
    name = f"Tray {plan.plate}" if plan.plate else "Tray"
    every, used = plan.columns * plan.rows, len(plan.order)
    pockets = count(every, "pocket") if used == every else f"{used} of {every} pockets in use"
    return f"{name}: {plan.columns} across, {plan.rows} along, {pockets}"


def _beside(plan: list[str], entries: list[str], width: int) -> list[str]:
    """Plan and legend side by side where there is room, else one over the other."""
    taken = max(cell_len(line) for line in plan) + 3
    if width - taken >= _BESIDE:
        told = [line for entry in entries for line in words(entry, width - taken)]
        if len(told) <= len(plan):
            pairs = zip_longest(plan, told, fillvalue="")
            return [fit(one, taken) + other for one, other in pairs]
    return plan + [line for entry in entries for line in words(entry, width)]
