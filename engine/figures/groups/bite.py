"""Room between jaws and fingers along the height of the piece; all lengths are mm.

Jaws hold it from one end, fingers from the other. Below zero they meet, unless
one holds in a hole and the other outside: then the figure informs and judges
nothing.
"""

from __future__ import annotations

from dataclasses import replace

from engine.figures.geometry.sizes import WHATS, What, fingers, hold_of, size
from engine.figures.inputs import Facts, gather
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge, judge_by_policy

FREE_HEIGHT = FigureKind(
    "free height",
    "bite",
    "mm",
    "height − jaw bite − finger bite: what is left free between jaws and fingers; "
    "for the part with its own height and the bite of its own fingers",
    "common practice, no source",
    bound="least",
    section="jaws.bite",
)
STICK_OUT = FigureKind(
    "stick-out",
    "bite",
    "mm",
    "height − jaw bite: how far it stands out of the jaws",
    "common practice, no source",
    section="jaws.bite",
)


def free_height(height: float, jaw_bite: float, finger_bite: float) -> float:
    """Height left between jaws and fingers, below zero where they meet. One unit throughout."""
    return height - jaw_bite - finger_bite


def figures(facts: Facts) -> list[Figure]:
    """Free height and stick-out of blank and part, in mm."""
    return [figure for what in WHATS for figure in (_free(facts, what), _stick_out(facts, what))]


def _free(facts: Facts, what: What) -> Figure:
    def compute() -> float:
        return free_height(
            *gather(
                lambda: size(facts, what, "height")[0],
                lambda: facts.length("jaws.bite"),
                lambda: facts.length(f"{fingers(facts, what)}.bite"),
            )
        )

    if _apart(facts, what):
        note = "one holds outside and the other inside: they do not meet"
        return judge(facts, replace(FREE_HEIGHT, bound="none"), what, compute, note=note)
    return judge_by_policy(facts, FREE_HEIGHT, what, compute, "free_height_least")


def _apart(facts: Facts, what: What) -> bool:
    jaws, hold = facts.find("jaws.inside_or_outside"), hold_of(facts, what)
    return None not in (jaws, hold) and jaws != hold


def _stick_out(facts: Facts, what: What) -> Figure:
    def compute() -> float:
        height, bite = gather(
            lambda: size(facts, what, "height")[0], lambda: facts.length("jaws.bite")
        )
        return height - bite

    return judge(facts, STICK_OUT, what, compute)
