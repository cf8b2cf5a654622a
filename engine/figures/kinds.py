"""A figure is one computed value that carries its own judgement and what it follows from.

`margin` is positive where the figure fits, negative where it does not, in the
figure's unit; `tight` is a positive margin smaller than the kind's `tight_share` of
the limit. What every figure of one kind shares is written down once, in its kind.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from engine.figures.inputs import Trail, addresses_in, asks_for

Verdict = Literal["fits", "tight", "does not fit", "cannot tell", "for information"]


@dataclass(frozen=True, slots=True)
class FigureKind:
    """What every figure of one kind shares. `bound`: the value must stay at least/most at limit."""

    name: str
    group: str
    unit: str
    formula: str  # in words
    source: str  # title, edition, section; or "common practice, no source"
    bound: Literal["least", "most", "none"] = "none"
    tight_share: float = 0.25
    tight_least: float = 0.0  # a margin below this is tight too, in the figure's unit
    section: str = ""  # table or value of the record to look at first


@dataclass(frozen=True, slots=True)
class FigureInput:
    """The address of a value that was asked for, `cell:` or `policy:` before it if not ours."""

    address: str
    of_limit: bool  # the limit follows from it, and perhaps the value too


@dataclass(frozen=True, slots=True)
class Figure:
    """One value at one leg, station or stage (`at`), judged against its limit.

    `look_at` is the table or value of the record that a person would look at first.
    """

    name: str
    group: str
    at: str
    value: float | None
    unit: str
    limit: float | None
    margin: float | None
    verdict: Verdict
    kind: FigureKind
    missing: tuple[str, ...] = ()
    note: str = ""
    look_at: str = ""
    asked: Trail = field(default_factory=list, repr=False, compare=False)
    asked_for_limit: Trail = field(default_factory=list, repr=False, compare=False)

    def inputs(self) -> tuple[FigureInput, ...]:
        """Everything that was asked for it, in the order of asking, there or not."""
        of_limit = frozenset(addresses_in(self.asked_for_limit))
        every = addresses_in(self.asked, self.asked_for_limit)
        return tuple(FigureInput(address, address in of_limit) for address in every)

    def follows_from(self, address: str, known: dict[int, bool]) -> bool:
        """Whether it asked for an address; `known` is what trails were found to say so far."""
        trails = (self.asked, self.asked_for_limit)
        return any(asks_for(trail, address, known) for trail in trails)
