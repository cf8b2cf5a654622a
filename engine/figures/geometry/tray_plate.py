"""Sizes on the tray plate, in mm: pockets, the pieces in them, and what is left between.

A block lies with its width across and its length along; a hexagon takes its
corners; the larger of blank and part counts, at the largest size. Ways of the
grid are `across` (along a row) and `along` (from row to row).
"""

from __future__ import annotations

from functools import partial
from math import hypot
from typing import Literal

from engine.figures.cell import closing_of, turned_by
from engine.figures.geometry import grid
from engine.figures.geometry.capacity import Capacity, TwoLengths, what_fits
from engine.figures.geometry.pockets import pitch_of
from engine.figures.geometry.sizes import WHATS, What, fingers, footprint, form, hold_of, size
from engine.figures.inputs import Facts, Missing, both, gather
from engine.figures.mechanics.payload import carriers

Direction = Literal["across", "along"]
WAYS: tuple[Direction, Direction] = ("across", "along")


def single(facts: Facts, way: Direction) -> bool:
    """Whether there is one pocket only that way, and so no neighbour."""
    return bool(facts.find(f"tray.{way}") == 1)


def body(facts: Facts) -> TwoLengths:
    """Room that a piece takes (across, along): the larger of blank and part.

    A part whose shape is not written is taken to be no larger than its blank.
    """
    blank = footprint(facts, "blank")
    if facts.find("part.shape") is None:
        return blank
    part = footprint(facts, "part")
    return max(blank[0], part[0]), max(blank[1], part[1])


def pocket(facts: Facts) -> TwoLengths:
    """Size of a pocket (across, along); a round one is the same both ways."""
    if facts.text("tray.pocket_shape") == "round":
        diameter = facts.length("tray.pocket_size")
        return diameter, diameter
    across, along = facts.lengths("tray.pocket_size", "tray.pocket_length")
    return across, along


def web(facts: Facts, way: Direction) -> float:
    """Material between two pockets."""
    pitch, well = both(lambda: pitch_of(facts, way), lambda: pocket(facts))
    return pitch - well[WAYS.index(way)]


def room(facts: Facts, way: Direction) -> float:
    """What is free between two neighbours."""
    pitch, taken = both(lambda: pitch_of(facts, way), lambda: body(facts))
    return pitch - taken[WAYS.index(way)]


def edge(facts: Facts, way: Direction) -> float:
    """From the plate's edge to the outermost pocket, at the narrower end."""
    (first, plate, pitch, count), well = both(
        lambda: gather(
            lambda: facts.length(f"tray.first_{way}"),
            lambda: facts.length(f"tray.plate_{way}"),
            lambda: pitch_of(facts, way),
            lambda: float(grid.size(facts)[WAYS.index(way)]),
        ),
        lambda: pocket(facts),
    )
    return min(first, plate - first - (count - 1) * pitch) - well[WAYS.index(way)] / 2


def on_bed(facts: Facts, way: Direction) -> float:
    """Room on the bed that the plate leaves."""
    bed, plate = gather(
        lambda: facts.number(f"cell:bed.{way}"), lambda: facts.length(f"tray.plate_{way}")
    )
    return bed - plate


def play(facts: Facts, what: What) -> float:
    """Play in the pocket, a side; a block in a round pocket counts over its corners."""
    taken, well = both(lambda: footprint(facts, what), lambda: pocket(facts))
    if facts.find("tray.pocket_shape") == "round" and form(facts, what) == "block":
        return (well[0] - hypot(*taken)) / 2
    return min(well[0] - taken[0], well[1] - taken[1]) / 2


def standing(facts: Facts, what: What) -> float:
    """Height over the plate."""
    height, depth = gather(
        lambda: size(facts, what, "height")[0], lambda: facts.length("tray.pocket_depth")
    )
    return height - depth


def tip_over_plate(facts: Facts, what: What) -> float:
    """From the plate to the tips of fingers that hold it in its pocket."""
    bite = f"{fingers(facts, what)}.bite"
    height, deep = gather(lambda: standing(facts, what), lambda: facts.length(bite))
    return height - deep


def beside_open_finger(facts: Facts, what: What) -> float:
    """From the back of an open finger to the nearest neighbour, in the narrowest of its ways."""
    address, ways = fingers(facts, what), opening_ways(facts, what)
    (opening, thickness), (pitches, taken) = both(
        lambda: facts.lengths(f"{address}.opening", f"{address}.thickness"),
        lambda: both(
            lambda: gather(*(partial(pitch_of, facts, way) for way in ways)), lambda: body(facts)
        ),
    )
    free = (p - taken[WAYS.index(w)] / 2 for w, p in zip(ways, pitches, strict=True))
    return min(free) - opening / 2 - thickness


def opening_ways(facts: Facts, what: What) -> tuple[Direction, ...]:
    """Ways with neighbours in which the fingers may open over the tray; both where they turn."""
    found: set[str] = set()
    for name in carriers(facts, what):
        closing = closing_of(facts, name)
        if closing != "z":
            own = "across" if closing == "x" else "along"
            found |= set(WAYS) if turned_by(facts, name) else {own}
    return tuple(way for way in WAYS if way in found and not single(facts, way))


def layout(facts: Facts) -> Capacity:
    """The most rows and columns that plate, pieces, pockets, fingers and web allow."""
    return facts.once("tray_plate.layout", lambda: _layout(facts))


def _layout(facts: Facts) -> Capacity:
    (plate, rules), (taken, well) = both(
        lambda: both(
            lambda: facts.lengths("tray.plate_across", "tray.plate_along"),
            lambda: facts.numbers("policy:finger_room_least", "policy:web_least"),
        ),
        lambda: both(lambda: body(facts), lambda: pocket(facts)),
    )
    needs = (max(taken[0], well[0]), max(taken[1], well[1]))
    fingered = [max(rules[0], _open_needs(facts, way, taken)) for way in WAYS]
    between = [max(rules[1], fingered[i] - (needs[i] - taken[i])) for i in (0, 1)]
    return what_fits((plate[0], plate[1]), needs, (between[0], between[1]), rules[1])


def _open_needs(facts: Facts, way: Direction, taken: TwoLengths) -> float:
    """Room between neighbours that open fingers take, as far as their sizes are known."""
    needs = 0.0
    for what in WHATS:
        address = fingers(facts, what)
        try:
            opens = way in opening_ways(facts, what) and hold_of(facts, what) != "inside"
            opening, thickness = facts.lengths(f"{address}.opening", f"{address}.thickness")
        except Missing:
            continue
        if opens:
            needs = max(needs, opening / 2 + thickness - taken[WAYS.index(way)] / 2)
    return needs
