"""Figures: pure functions over record, cell and policy; no clock, no files, no git.

Each group is one module with one function `figures(facts) -> list[Figure]`;
`all_figures` runs them in the order a setter thinks: what goes in, how it is
held, where it lies, how it moves, how long it takes.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import TYPE_CHECKING

from engine.views import FigureInput

if TYPE_CHECKING:
    from engine.figures.inputs import Facts
    from engine.figures.kinds import Figure


def inputs_of(facts: Facts, figure: Figure) -> list[FigureInput]:
    """The numbers that were asked for a figure, in order: the record's, the cell's, the policy's.

    Some count only if others were different; texts and choices steer, they are not listed.
    """
    every = (FigureInput(i.address, facts.find(i.address), i.of_limit) for i in figure.inputs())
    order = ("", "cell", "policy")
    numbers = [each for each in every if _is_number(each.value)]
    return sorted(numbers, key=lambda each: order.index(each.address.rpartition(":")[0]))


def _is_number(value: object) -> bool:
    every = value if isinstance(value, list) else [value]
    return bool(every) and all(isinstance(v, int | Decimal) and v is not True for v in every)


def figures_from(found: Iterable[Figure], address: str) -> list[str]:
    """Names of the figures that asked for an address, there or not, in their order."""
    known: dict[int, bool] = {}
    names = (f.name for f in found if f.follows_from(address, known))
    return list(dict.fromkeys(names))


def all_figures(facts: Facts) -> list[Figure]:
    """Every figure of a record on its cell under its policy, group by group."""
    from engine.figures.groups import (
        agreement,
        bite,
        clamp,
        clear,
        cycle,
        fingers,
        hold,
        lot,
        mass,
        motion,
        reach,
        tray,
        tray_fit,
    )

    groups = (
        *(mass, clamp, bite, fingers, hold),
        *(tray, tray_fit, agreement, clear, reach),
        *(motion, cycle, lot),
    )
    return [figure for group in groups for figure in group.figures(facts)]
