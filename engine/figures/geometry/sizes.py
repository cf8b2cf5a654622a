"""Sizes of blank and part in mm, [smallest, largest]; a single number is both.

What is not written down is `Missing`, with two conventions that the formulas of
the figures repeat: a block is held across its width, and on the tray its width
lies across and its length along. A `bar` is what its sizes say: a diameter
makes it round, a size across flats a hexagon, width and length a block.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import Literal, cast

from engine.figures.inputs import Facts, Missing, gather

What = Literal["blank", "part"]
PieceForm = Literal["round", "tube", "hexagon", "block"]
MinMax = tuple[float, float]
WHATS: tuple[What, What] = ("blank", "part")


def size(facts: Facts, what: What, name: str) -> MinMax:
    """One size of blank or part in mm, or `Missing` with its address."""
    return facts.span(f"{what}.{name}")


def form(facts: Facts, what: What) -> PieceForm:
    """The body that the shape stands for."""
    shape = facts.text(f"{what}.shape")
    if shape != "bar":
        return cast("PieceForm", shape)
    by_size: dict[str, PieceForm] = {"diameter": "round", "across_flats": "hexagon"}
    for name, found in (by_size | {"width": "block"}).items():
        if facts.find(f"{what}.{name}") is not None:
            return found
    raise Missing(f"{what}.diameter")


def outside(facts: Facts, what: What) -> MinMax:
    """Size over the outside: diameter, across flats, or width of a block."""
    name = {"round": "diameter", "tube": "diameter", "block": "width"}.get(form(facts, what))
    return size(facts, what, name or _flats(what))


def footprint(facts: Facts, what: What) -> MinMax:
    """Room it takes on the plate (across, along), at its largest; a hexagon over its corners."""
    body = form(facts, what)
    if body == "block":
        (_, width), (_, length) = gather(
            lambda: size(facts, what, "width"), lambda: size(facts, what, "length")
        )
        return width, length
    over = outside(facts, what)[1] * (2 / sqrt(3) if body == "hexagon" else 1.0)
    return over, over


def volumes(facts: Facts, what: What) -> MinMax:
    """Smallest and largest volume in mm3. Only the hole of a tube is taken off."""
    (area_small, area_large), (low, high) = gather(
        lambda: _areas(facts, what), lambda: size(facts, what, "height")
    )
    return area_small * low, area_large * high


def _areas(facts: Facts, what: What) -> MinMax:
    body = form(facts, what)
    if body == "block":
        (w0, w1), (l0, l1) = gather(
            lambda: size(facts, what, "width"), lambda: size(facts, what, "length")
        )
        return w0 * l0, w1 * l1
    if body == "hexagon":
        s0, s1 = outside(facts, what)
        return sqrt(3) / 2 * s0**2, sqrt(3) / 2 * s1**2
    if body == "round":
        d0, d1 = outside(facts, what)
        return pi / 4 * d0**2, pi / 4 * d1**2
    (d0, d1), (b0, b1) = gather(lambda: outside(facts, what), lambda: size(facts, what, "bore"))
    return pi / 4 * (d0**2 - b1**2), pi / 4 * (d1**2 - b0**2)


def held(facts: Facts, what: What) -> MinMax:
    """Size where the fingers hold; inside a hole where the fingers hold inside."""
    hold = facts.text(f"{fingers(facts, what)}.hold")
    if facts.find(f"{what}.held") is not None:
        return size(facts, what, "held")
    if hold == "outside":
        return outside(facts, what)
    if facts.find(f"{what}.bore") is not None:
        return size(facts, what, "bore")
    raise Missing(f"{what}.held")


def fingers(facts: Facts, what: What) -> str:
    """Address of the fingers that carry it: `fingers.part`; `fingers.both` where one set does."""
    sets = facts.keys("fingers")
    return "fingers.both" if what not in sets and "both" in sets else f"fingers.{what}"


def hold_of(facts: Facts, what: What) -> Literal["outside", "inside"] | None:
    """Whether the fingers hold it outside or inside, or None where nobody said."""
    found = facts.find(f"{fingers(facts, what)}.hold")
    return cast('Literal["outside", "inside"] | None', found)


def _flats(what: What) -> str:
    """A part has no size across flats of its own; its width stands for it."""
    return "across_flats" if what == "blank" else "width"
