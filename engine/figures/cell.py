"""What the cell says of its axes, stations, legs and grippers, asked by address.

Every question needs the cell (`Missing` record.cell where there is none) and the
axis, station, leg or gripper itself (`Missing` cell:axes.lift). Linear axes count in
mm, rotary ones in degrees, whatever unit the cell gives them.
"""

from __future__ import annotations

from typing import Literal, cast

from engine.figures.inputs import Facts, Missing, known
from schemas.cell import listed_first
from schemas.factors import MM_PER_UNIT

Direction = Literal["x", "y", "z"]


def _always(facts: Facts, thing: str, name: str, key: str) -> str:
    """A text or choice that every axis, station, leg or gripper has."""
    facts.need_cell()
    return str(known(facts.find(f"cell:{thing}.{name}.{key}"), f"cell:{thing}.{name}"))


# axes


def axis_order(facts: Facts) -> list[str]:
    """Names of all axes as the cell wants them shown."""
    facts.need_cell()
    return listed_first(facts.find("cell:cell.axes"), facts.keys("cell:axes"))


def owner_of(facts: Facts, axis: str) -> str:
    """`loader` or `machine`."""
    return _always(facts, "axes", axis, "of")


def is_rotary(facts: Facts, axis: str) -> bool:
    """Whether it turns; else it is linear."""
    return _always(facts, "axes", axis, "kind") == "rotary"


def scale_of(facts: Facts, axis: str) -> float:
    """From the axis' unit to mm or degrees: 25.4 for an axis in inches, else 1."""
    return MM_PER_UNIT[_always(facts, "axes", axis, "unit")]


def along_of(facts: Facts, axis: str) -> Direction | None:
    """The direction it moves, or the line it turns about; None where the cell says nothing."""
    owner_of(facts, axis)
    return cast("Direction | None", facts.find(f"cell:axes.{axis}.along"))


def sign_of(facts: Facts, axis: str) -> int:
    """1 where the axis' value grows along its direction, -1 where it falls, or `Missing`."""
    owner_of(facts, axis)
    return int(facts.number(f"cell:axes.{axis}.sign"))


def above_zero(facts: Facts, address: str) -> float:
    """A number of the cell that must be above zero; `Missing` where it is not."""
    value = facts.number(f"cell:{address}")
    if value <= 0:
        raise Missing(f"cell:{address}")
    return value


def travel_left(facts: Facts, axis: str, value: float) -> float:
    """Room from a value, in the axis' own unit, to the nearer end of its travel; below 0 beyond.

    In mm for linear axes and degrees for rotary ones.
    """
    least, most = facts.numbers(f"cell:axes.{axis}.least", f"cell:axes.{axis}.most")
    return min(value - least, most - value) * scale_of(facts, axis)


# stations


def station_order(facts: Facts) -> list[str]:
    """Names of all stations in the order of the round; those outside it come last."""
    facts.need_cell()
    return listed_first(facts.find("cell:cell.round"), facts.keys("cell:stations"))


def round_of(facts: Facts) -> list[str]:
    """The stations of the round, or `Missing`."""
    facts.need_cell()
    return list(known(facts.find("cell:cell.round") or None, "cell:cell.round"))


def place_of(facts: Facts, station: str) -> str:
    """Where a station is: tray, jaws, turn-over, chute, wait."""
    return _always(facts, "stations", station, "place")


def does(facts: Facts, station: str) -> str:
    """What happens at a station: take, give, pass, wait."""
    return _always(facts, "stations", station, "does")


def hands_over(facts: Facts, station: str) -> bool:
    """Whether something changes hands there."""
    return does(facts, station) in ("take", "give")


def axes_at(facts: Facts, station: str) -> list[str]:
    """Axes that a station's taught position names."""
    place_of(facts, station)
    return list(facts.find(f"cell:stations.{station}.axes"))


def out_of(facts: Facts, station: str) -> tuple[str, int]:
    """The direction that leads out of a place, and its sign; up where the cell says nothing."""
    place_of(facts, station)
    out = facts.find(f"cell:stations.{station}.out") or "z"
    return out[-1], -1 if out.startswith("-") else 1


def over_tray(facts: Facts, station: str) -> bool:
    """Whether the grid moves the station: said so, or at the tray and not said otherwise."""
    place = place_of(facts, station)
    said = facts.find(f"cell:stations.{station}.over_tray")
    return bool(said) if said is not None else place == "tray"


def stations_that(facts: Facts, place: str, act: str) -> list[str]:
    """Stations by what they do, in the order of the round: the cell chooses their names."""
    order = station_order(facts)
    return [s for s in order if place_of(facts, s) == place and does(facts, s) == act]


# legs


def start_of(facts: Facts, leg: str) -> str:
    """The station that a leg starts from."""
    return _always(facts, "legs", leg, "start")


def end_of(facts: Facts, leg: str) -> str:
    """The station that a leg ends at."""
    return _always(facts, "legs", leg, "end")


def path_of(facts: Facts, leg: str) -> str | None:
    """`straight` or `free`; None where the cell says nothing."""
    end_of(facts, leg)
    return cast("str | None", facts.find(f"cell:legs.{leg}.path"))


def moves_of(facts: Facts, leg: str) -> list[list[str]] | None:
    """The moves of a leg, each the axes that move together; None where the cell says nothing."""
    end_of(facts, leg)
    moves = facts.find(f"cell:legs.{leg}.moves")
    return None if moves is None else [[a.strip() for a in move.split("+")] for move in moves]


# grippers


def gripper_at(facts: Facts, station: str) -> str:
    """The gripper of a station by name; where the cell has one only, that one."""
    place_of(facts, station)
    names = facts.keys("cell:grippers")
    only = names[0] if len(names) == 1 else None
    address = f"cell:stations.{station}.gripper"
    chosen = str(known(facts.find(address) or only, address))
    carries(facts, chosen)
    return chosen


def carries(facts: Facts, gripper: str) -> str:
    """What a gripper carries: blank, part, both."""
    return _always(facts, "grippers", gripper, "carries")


def turned_by(facts: Facts, gripper: str) -> str | None:
    """The rotary axis that turns a gripper."""
    return cast("str | None", facts.find(f"cell:grippers.{gripper}.turned_by"))


def closing_of(facts: Facts, gripper: str) -> Direction:
    """The direction in which a gripper's fingers close, or `Missing`."""
    return cast("Direction", facts.text(f"cell:grippers.{gripper}.closing"))
