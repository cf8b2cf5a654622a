"""A figure is one computed value that carries its own judgement and what it follows from.

`margin` is positive where the figure fits, negative where it does not, in the
figure's unit; `tight` is a positive margin smaller than the kind's `tight_share` of
the limit. What every figure of one kind shares is written down once, in its kind.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from engine.figures.inputs import Trail, addresses_in, asks_for
from engine.views.figures import Figure as FigureAnswer
from engine.views.figures import FigureKind, Verdict

__all__ = ["Figure", "FigureKind", "InputAsked", "Verdict"]


@dataclass(frozen=True, slots=True)
class InputAsked:
    """The address of a value that was asked for, `cell:` or `policy:` before it if not ours."""

    address: str
    of_limit: bool  # the limit follows from it, and perhaps the value too


@dataclass(frozen=True, slots=True)
class Figure(FigureAnswer):
    """A figure as it is answered, with all that was asked for it."""

    asked: Trail = field(default_factory=list, repr=False, compare=False)
    asked_for_limit: Trail = field(default_factory=list, repr=False, compare=False)

    def inputs(self) -> tuple[InputAsked, ...]:
        """Everything that was asked for it, in the order of asking, there or not."""
        of_limit = frozenset(addresses_in(self.asked_for_limit))
        every = addresses_in(self.asked, self.asked_for_limit)
        return tuple(InputAsked(address, address in of_limit) for address in every)

    def follows_from(self, address: str, known: dict[int, bool]) -> bool:
        """Whether it asked for an address; `known` is what trails were found to say so far."""
        trails = (self.asked, self.asked_for_limit)
        return any(asks_for(trail, address, known) for trail in trails)
