"""What the loader carries on each leg of the round, in the order of the stations.

The round is walked twice, so that a part which is brought back in the next
round is there too. A gripper is never emptied by guess: `give` sets down what
the place wants (a blank for the jaws, a part for tray and chute), or the last
thing taken; what is taken twice is carried twice.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.figures.geometry.axes import cell_of
from engine.figures.geometry.sizes import What
from engine.figures.model import Facts, known
from schemas.cell import Cell, Leg, Station

Load = tuple[tuple[str, What], ...]  # (gripper, what it holds), in the order of taking


@dataclass(frozen=True, slots=True)
class PayloadMoment:
    """What is held on leaving a station for the next one of the round."""

    station: str
    following: str
    held: Load


def moments(facts: Facts) -> tuple[PayloadMoment, ...]:
    """Every moment of two rounds, the start with empty grippers first."""
    return facts.once_per_cell("carried.moments", lambda: _moments(facts))


def on_leg(facts: Facts, leg: Leg) -> Load:
    """Everything that may be held on a leg; on a leg outside the round, all there is."""
    walked = moments(facts)
    same = [m for m in walked if (m.station, m.following) == (leg.start, leg.end)]
    same = same or [m for m in walked if m.station == leg.start] or list(walked)
    return tuple(dict.fromkeys(pair for moment in same for pair in moment.held))


def carriers(facts: Facts, what: What) -> tuple[str, ...]:
    """Grippers that hold it at some moment of the round."""
    return tuple(dict.fromkeys(g for m in moments(facts) for g, held in m.held if held == what))


def _moments(facts: Facts) -> tuple[PayloadMoment, ...]:
    cell = cell_of(facts)
    names = known(cell.cell.round or None, "cell:cell.round")
    held: list[tuple[str, What]] = []
    lying: list[What] = []
    walked = []
    for position, name in enumerate(names * 2):
        station = known(cell.stations.get(name), f"cell:stations.{name}")
        _act(cell, name, station, held, lying)
        walked.append(PayloadMoment(name, names[(position + 1) % len(names)], tuple(held)))
    return tuple(walked)


def _act(
    cell: Cell, name: str, station: Station, held: list[tuple[str, What]], lying: list[What]
) -> None:
    """Take or give at one station; `lying` is what waits at the turn-over place."""
    if station.does not in ("take", "give"):
        return
    gripper = _gripper(cell, name, station)
    if station.does == "take":
        held.append((gripper, _taken(cell, gripper, station, lying)))
        return
    mine = [pair for pair in held if pair[0] == gripper]
    wanted: What = "blank" if station.place == "jaws" else "part"
    gone = next((pair for pair in mine if pair[1] == wanted), mine[-1] if mine else None)
    if gone is None:
        return
    held.remove(gone)
    if station.place == "turn-over":
        lying.append(gone[1])


def _taken(cell: Cell, gripper: str, station: Station, lying: list[What]) -> What:
    if station.place == "turn-over" and lying:
        return lying.pop()
    carries = cell.grippers[gripper].carries
    if carries != "both":
        return carries
    return "part" if station.place == "jaws" else "blank"


def _gripper(cell: Cell, name: str, station: Station) -> str:
    """The gripper of a station; where the cell has one only, that one."""
    only = next(iter(cell.grippers)) if len(cell.grippers) == 1 else None
    gripper = known(station.gripper or only, f"cell:stations.{name}.gripper")
    known(cell.grippers.get(gripper), f"cell:grippers.{gripper}")
    return gripper
