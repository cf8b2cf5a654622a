"""What a campaign found: how many cases, and every complaint with the case that it is about."""

from __future__ import annotations

import collections
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import zip_longest
from pathlib import Path
from random import Random
from typing import TypeVar

Point = TypeVar("Point")


class Kind(StrEnum):
    """What may go wrong; each is a column of the table."""

    LOST = "lost"  # something that was acknowledged is gone
    RAN = "ran"  # something from a book was carried out, or something outside it was written
    TRACEBACK = "tracebacks"  # the program fell over instead of saying what is wrong
    UNANSWERABLE = "unanswerable"  # a question about the past had no answer, or a wrong one
    WRONG = "other"  # the book is not whole, a no that was a yes, somebody is locked out


@dataclass
class Wanted:
    """How much is asked of a campaign: `place` is an empty folder of its own."""

    place: Path
    seed: int
    long: bool
    cases: int  # at most so many; what has fewer points than that goes to each of them
    only: str = ""  # words in a case's name

    def dice(self) -> Random:
        """Chance, the same for the same seed."""
        return Random(self.seed)

    def some(
        self, points: Sequence[Point], kind: Callable[[Point], object], most: int = 0
    ) -> list[Point]:
        """So many of these points (`cases` where `most` is 0), of each kind alike; the seed moves
        them.
        """
        dice, kinds = self.dice(), dict[object, list[Point]]()
        for point in points:
            kinds.setdefault(kind(point), []).append(point)
        for each in kinds.values():
            dice.shuffle(each)
        rounds = zip_longest(*kinds.values(), fillvalue=None)
        chosen = [point for one in rounds for point in one if point is not None]
        return chosen[: most or self.cases]


@dataclass
class Outcome:
    """One row of the table."""

    cases: int = 0
    complaints: list[tuple[Kind, str, str]] = field(default_factory=list)  # kind, case, what
    counts: collections.Counter[str] = field(default_factory=collections.Counter)
    left_out: str = ""  # why nothing could be tried here

    def complain(self, kind: Kind, case: str, what: object) -> None:
        """Note what was wrong in a case."""
        self.complaints.append((kind, case, " ".join(str(what).split())[:400]))

    def number(self, kind: Kind) -> int:
        """How many complaints there are of one kind."""
        return sum(found == kind for found, _, _ in self.complaints)

    @contextmanager
    def looking(self, case: str, kind: Kind = Kind.WRONG) -> Iterator[None]:
        """Whatever goes wrong in here is a complaint about the case, and the campaign goes on."""
        try:
            yield
        except AssertionError as error:
            self.complain(kind, case, error)
        except Exception as error:  # the campaign's own edge: what went wrong is the finding
            place = error.__traceback__
            while place and place.tb_next:
                place = place.tb_next
            where = (
                f"{Path(place.tb_frame.f_code.co_filename).name}:{place.tb_lineno}" if place else ""
            )
            self.complain(kind, case, f"{type(error).__name__}: {error} ({where})")
