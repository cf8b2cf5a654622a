"""What changes hands at a station: which piece, by which gripper, in which fingers."""

from __future__ import annotations

from engine.figures.geometry.axes import cell_of
from engine.figures.geometry.sizes import What
from engine.figures.mechanics.legs import station_of
from engine.figures.model import Facts, known
from schemas.cell import Gripper


def piece_at(facts: Facts, name: str) -> What:
    """What is taken or given: the jaws take blanks and give parts, tray and chute the reverse.

    At a turn-over it is what the gripper carries; a gripper for both has a part there.
    """
    station = station_of(facts, name)
    if station.place == "turn-over":
        carries = gripper_at(facts, name)[1].carries
        return "part" if carries == "both" else carries
    into_jaws = (station.place == "jaws") == (station.does == "give")
    return "blank" if into_jaws else "part"


def gripper_at(facts: Facts, name: str) -> tuple[str, Gripper]:
    """The gripper of a station by name; where the cell has one only, that one."""
    grippers = cell_of(facts).grippers
    only = next(iter(grippers)) if len(grippers) == 1 else None
    chosen = known(station_of(facts, name).gripper or only, f"cell:stations.{name}.gripper")
    return chosen, known(grippers.get(chosen), f"cell:grippers.{chosen}")


def stations_that(facts: Facts, place: str, does: str) -> list[str]:
    """Stations by what they do, in the order of the round: the cell chooses their names."""
    cell = cell_of(facts)
    order = cell.station_order()
    return [s for s in order if cell.stations[s].place == place and cell.stations[s].does == does]
