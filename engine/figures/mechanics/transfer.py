"""Which piece changes hands at a station."""

from __future__ import annotations

from typing import cast

from engine.figures.cell import carries, does, gripper_at, place_of
from engine.figures.geometry.sizes import What
from engine.figures.inputs import Facts


def piece_at(facts: Facts, station: str) -> What:
    """What is taken or given: the jaws take blanks and give parts, tray and chute the reverse.

    At a turn-over it is what the gripper carries; a gripper for both has a part there.
    """
    place = place_of(facts, station)
    if place == "turn-over":
        what = carries(facts, gripper_at(facts, station))
        return "part" if what == "both" else cast("What", what)
    into_jaws = (place == "jaws") == (does(facts, station) == "give")
    return "blank" if into_jaws else "part"
