"""Which two stations visit the same place, one with the blank and one with the part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.figures.cell import stations_that
from engine.figures.inputs import Facts

PlaceKind = Literal["jaws", "tray"]


@dataclass(frozen=True, slots=True)
class Visit:
    """The station with the blank (seat, fetch), that with the part (collect, return), the place."""

    place: PlaceKind
    first: str
    second: str


def visits_of(facts: Facts) -> list[Visit]:
    """Jaws first, then the tray; a place that has not both visits is left out.

    Where a place has several of a kind, they go together in the order of the round.
    """
    return facts.once_per_cell("visits", lambda: _visits(facts))


def _visits(facts: Facts) -> list[Visit]:
    found = []
    for place, blank, part in (("jaws", "give", "take"), ("tray", "take", "give")):
        pairs = zip(
            stations_that(facts, place, blank), stations_that(facts, place, part), strict=False
        )
        kind: PlaceKind = "jaws" if place == "jaws" else "tray"
        found += [Visit(kind, first, second) for first, second in pairs]
    return found


def jaws_visit(facts: Facts) -> Visit | None:
    """The first visit to the jaws, if the cell has both sides of it."""
    return next((visit for visit in visits_of(facts) if visit.place == "jaws"), None)
