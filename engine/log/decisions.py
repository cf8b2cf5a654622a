"""What a merge changed, and what it decided between its sides.

A merge that only joins is no change: each value is that of the side that changed it. Where
what stands in it is not what every side says that is not simply behind another, somebody
decided: that is a change of its own, though it be the value of one side to the letter, an older
one, or none. So the last change of a value, in any order of parents before children, is always
the one by which it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

from engine.log.ancestry import leading

V = TypeVar("V")


class Decided(NamedTuple):
    """Between whose values a merge decided: the commits in which people inked them.

    `kept` is empty where the value is older than what both sides share.
    """

    kept: str
    against: str


@dataclass(frozen=True, slots=True)
class SideChange(Generic[V]):
    """A change on some of the sides that meet in a merge (bit n: the n-th parent knows it)."""

    sides: int
    address: str
    new: V | None
    maker: str  # the commit in which somebody inked the value


def decided_by_merge(
    olds: Sequence[Mapping[str, V]],
    new: Mapping[str, V],
    changes: Sequence[SideChange[V]],
    differ: Callable[[V | None, V | None], bool],
) -> Iterator[tuple[str, V | None, V | None, Decided]]:
    """What a merge decided: address, the value decided against, the one that stands, whose.

    `olds` are the values in each parent, `changes` those that not every parent knows, oldest
    first. What differs from all parents is left out: that is the merge's own.
    """
    by_address: dict[str, list[SideChange[V]]] = {}
    for one in changes:
        by_address.setdefault(one.address, []).append(one)
    for address in dict.fromkeys([*new, *(address for old in olds for address in old)]):
        now = new.get(address)
        other = [n for n, old in enumerate(olds) if differ(old.get(address), now)]
        if not other or len(other) == len(olds):
            continue
        own = by_address.get(address, [])
        ahead = leading((one.sides for one in own), len(olds))
        overruled = [n for n in other if n in ahead]
        if overruled:
            kept = [n for n in range(len(olds)) if n not in other]
            was = olds[overruled[0]].get(address)
            whose = (
                _maker([one for one in own if not differ(one.new, now)], kept),
                _maker([one for one in own if not differ(one.new, was)], overruled[:1]),
            )
            yield address, was, now, Decided(*whose)


def _maker(changes: Sequence[SideChange[V]], sides: Sequence[int]) -> str:
    """Where a value was inked last on some sides; empty where not apart from the others."""
    wanted = sum(1 << side for side in sides)
    return next((one.maker for one in reversed(changes) if one.maker and one.sides & wanted), "")
