"""What the loader carries on each leg of the round, in the order of the stations.

The round is walked twice, so that a part which is brought back in the next
round is there too. A gripper is never emptied by guess: `give` sets down what
the place wants (a blank for the jaws, a part for tray and chute), or the last
thing taken; what is taken twice is carried twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from engine.figures.cell import (
    carries,
    does,
    end_of,
    gripper_at,
    hands_over,
    place_of,
    round_of,
    start_of,
)
from engine.figures.geometry.sizes import What
from engine.figures.inputs import Facts

Load = tuple[tuple[str, What], ...]  # (gripper, what it holds), in the order of taking


@dataclass(frozen=True, slots=True)
class PayloadMoment:
    """What is held on leaving a station for the next one of the round."""

    station: str
    following: str
    held: Load


def moments(facts: Facts) -> tuple[PayloadMoment, ...]:
    """Every moment of two rounds, the start with empty grippers first."""
    return facts.once_per_cell("payload.moments", lambda: _moments(facts))


def on_leg(facts: Facts, leg: str) -> Load:
    """Everything that may be held on a leg; on a leg outside the round, all there is."""
    walked = moments(facts)
    start, end = start_of(facts, leg), end_of(facts, leg)
    same = [m for m in walked if (m.station, m.following) == (start, end)]
    same = same or [m for m in walked if m.station == start] or list(walked)
    return tuple(dict.fromkeys(pair for moment in same for pair in moment.held))


def carriers(facts: Facts, what: What) -> tuple[str, ...]:
    """Grippers that hold it at some moment of the round."""
    return tuple(dict.fromkeys(g for m in moments(facts) for g, held in m.held if held == what))


def _moments(facts: Facts) -> tuple[PayloadMoment, ...]:
    names = round_of(facts)
    held: list[tuple[str, What]] = []
    lying: list[What] = []
    walked = []
    for position, name in enumerate(names * 2):
        _act(facts, name, held, lying)
        walked.append(PayloadMoment(name, names[(position + 1) % len(names)], tuple(held)))
    return tuple(walked)


def _act(facts: Facts, name: str, held: list[tuple[str, What]], lying: list[What]) -> None:
    """Take or give at one station; `lying` is what waits at the turn-over place."""
    if not hands_over(facts, name):
        return
    gripper, place = gripper_at(facts, name), place_of(facts, name)
    if does(facts, name) == "take":
        held.append((gripper, _taken(facts, gripper, place, lying)))
        return
    mine = [pair for pair in held if pair[0] == gripper]
    wanted: What = "blank" if place == "jaws" else "part"
    gone = next((pair for pair in mine if pair[1] == wanted), mine[-1] if mine else None)
    if gone is None:
        return
    held.remove(gone)
    if place == "turn-over":
        lying.append(gone[1])


def _taken(facts: Facts, gripper: str, place: str, lying: list[What]) -> What:
    if place == "turn-over" and lying:
        return lying.pop()
    what = carries(facts, gripper)
    if what != "both":
        return cast("What", what)
    return "part" if place == "jaws" else "blank"
