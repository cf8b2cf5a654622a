"""What jaws and fingers hold of blank and part; all lengths are mm.

Invariant: each value stands here as the figures count with it, or is None.
"""

from __future__ import annotations

from collections.abc import Callable

from engine.figures.geometry.sizes import WHATS, What, fingers, hold_of, size
from engine.figures.groups import bite
from engine.figures.inputs import Facts, Missing
from engine.views.pictures import Bites, PieceHeld


def bites(facts: Facts) -> Bites:
    """Blank and part as jaws and fingers hold them."""
    blank, part = (_held(facts, what) for what in WHATS)
    return Bites(facts.find("record.units"), (blank, part))


def _held(facts: Facts, what: What) -> PieceHeld:
    found = {figure.name: figure for figure in bite.figures(facts) if figure.at == what}
    heights = _known(lambda: size(facts, what, "height"))
    return PieceHeld(
        what,
        heights[1] if heights else None,
        heights[0] if heights else None,
        _first(_known(lambda: (facts.length("jaws.bite"),))),
        _first(_known(lambda: (facts.length(f"{fingers(facts, what)}.bite"),))),
        facts.find("jaws.inside_or_outside") == "inside",
        hold_of(facts, what) == "inside",
        found["free height"],
        found["stick-out"].value,
    )


def _known(ask: Callable[[], tuple[float, ...]]) -> tuple[float, ...]:
    try:
        return ask()
    except Missing:
        return ()


def _first(values: tuple[float, ...]) -> float | None:
    return values[0] if values else None
