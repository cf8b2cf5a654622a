"""Whether open fingers pass and closed ones still squeeze; all lengths are mm.

Outside: open wider than the largest, closed limit below the smallest. Inside is
the mirror: released narrower than the smallest hole, end of stroke beyond the
largest; of `opening` and `closed_limit` the smaller is then the released one,
however the record names them. Distances are between the faces at the place
where they hold; a block is held across its width unless `held` says otherwise.
"""

from __future__ import annotations

from functools import partial
from typing import Protocol

from engine.figures.geometry.sizes import WHATS, MinMax, What, fingers, held, hold_of
from engine.figures.inputs import Facts, both
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge_by_policy

_HELD = (
    "; the size where the fingers hold: `held`, else the outside, a block's width, or, inside, "
    "the bore"
)
CLEARANCE = FigureKind(
    "clearance a side",
    "fingers",
    "mm",
    "outside: (opening − largest)/2; inside: (smallest − released distance)/2" + _HELD,
    "common practice, no source",
    bound="least",
    section="fingers",
)
SQUEEZE = FigureKind(
    "squeeze left",
    "fingers",
    "mm",
    "outside: smallest − closed limit; inside: distance at the end of the stroke − largest: "
    "what the fingers could still close when they hold" + _HELD,
    "common practice, no source",
    bound="least",
    section="fingers",
)


def clearance(opening: float, closed: float, size: MinMax, *, inside: bool) -> float:
    """Room a side of released fingers. `size` is (smallest, largest); one unit throughout."""
    if inside:
        return (size[0] - min(opening, closed)) / 2
    return (opening - size[1]) / 2


def squeeze(opening: float, closed: float, size: MinMax, *, inside: bool) -> float:
    """Stroke left between both faces when they hold; below zero they never touch."""
    if inside:
        return max(opening, closed) - size[1]
    return size[0] - closed


def figures(facts: Facts) -> list[Figure]:
    """Clearance and squeeze for blank and part, in mm."""
    found = []
    for what in WHATS:
        for kind, rule, least in (
            (CLEARANCE, clearance, "finger_clearance_least"),
            (SQUEEZE, squeeze, "squeeze_least"),
        ):
            compute = partial(_work, facts, what, rule)
            look_at = f"fingers.{what}"
            found.append(judge_by_policy(facts, kind, what, compute, least, look_at=look_at))
    return found


class _Rule(Protocol):
    def __call__(self, opening: float, closed: float, size: MinMax, *, inside: bool) -> float: ...


def _work(facts: Facts, what: What, rule: _Rule) -> float:
    address = fingers(facts, what)
    (opening, closed), sizes = both(
        lambda: facts.lengths(f"{address}.opening", f"{address}.closed_limit"),
        lambda: held(facts, what),
    )
    return rule(opening, closed, sizes, inside=hold_of(facts, what) == "inside")
