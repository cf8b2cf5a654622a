"""Figures: pure functions over record, cell and policy; no clock, no files, no git.

Each group is one module with one function `figures(facts) -> list[Figure]`;
`all_figures` runs them in the order a setter thinks: what goes in, how it is
held, where it lies, how it moves, how long it takes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.figures.model import Facts, Figure


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
