"""What figures are computed from: record, cell and policy, asked by address.

Invariant: nothing is read but by asking, and every question is recorded, whether
there was an answer or not; shared work hands its questions on to everybody who uses
its result. So a figure knows what it follows from, and what it waits for.

An address is that of its document, with `cell:` or `policy:` before it where it is
not the record's. Inside the figures all lengths are mm, times s, forces N, masses kg,
angles degrees; a record in inches is converted here. A value that counts only if
others were different (the smaller one of two that a figure takes the larger of) is
asked for too, and so it is named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Any, Generic, TypeVar, cast

from schemas.book import Policy
from schemas.cell import Cell
from schemas.factors import MM_PER_UNIT
from schemas.record import Record

T = TypeVar("T")
U = TypeVar("U")
Memo = dict[str, Any]
Trail = list["str | Trail"]  # addresses as they were asked, and what shared work had asked

_UNSEEN: Any = object()
_CELLS_KEPT = 8
_OF_CELLS: list[tuple[Cell | None, Memo]] = []  # what follows from a cell alone, newest first


class Missing(Exception):
    """Raised inside a computation; carries the addresses that were not there."""

    def __init__(self, *addresses: str) -> None:
        super().__init__(", ".join(addresses))
        self.addresses = addresses


@dataclass(frozen=True, slots=True)
class Attempt(Generic[T]):
    """What came of a computation: its result or what it misses, and what it asked."""

    result: T | None
    missing: tuple[str, ...]
    asked: Trail


@dataclass(frozen=True)
class Facts:
    """Record, cell (or None) and policy, and how they are asked. Used by one thread at a time."""

    record: Record
    cell: Cell | None
    policy: Policy

    _parts: dict[str, Any] = field(init=False, repr=False, compare=False)
    _memo: Memo = field(default_factory=dict, init=False, repr=False, compare=False)
    _of_cell: Memo = field(init=False, repr=False, compare=False)
    _values: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    _numbers: dict[str, float | None] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    _open: list[Trail] = field(init=False, repr=False, compare=False)  # the innermost last

    def __post_init__(self) -> None:
        parts = {"": self.record, "cell": self.cell, "policy": self.policy}
        object.__setattr__(self, "_parts", parts)
        object.__setattr__(self, "_of_cell", _memo_of(self.cell))
        object.__setattr__(self, "_open", [[]])

    # asking

    def find(self, address: str) -> Any:
        """Whatever stands at an address; None where nothing does."""
        self._open[-1].append(address)
        found = self._values.get(address, _UNSEEN)
        return self._look(address) if found is _UNSEEN else found

    def text(self, address: str) -> str:
        """A text or a choice, or `Missing`."""
        return str(known(self.find(address), address))

    def keys(self, address: str) -> tuple[str, ...]:
        """Names in a table, in its order; none where it is not there."""
        return tuple(self.find(address) or ())

    def number(self, address: str) -> float:
        """A number as it stands, or `Missing`."""
        self._open[-1].append(address)
        found = self._numbers.get(address, _UNSEEN)
        if found is _UNSEEN:
            found = self._numbers[address] = _number(self._look(address))
        if found is None:
            raise Missing(address)
        return float(found)

    def numbers(self, *addresses: str) -> tuple[float, ...]:
        """Numbers as they stand, all or one `Missing` with every absent one."""
        return gather(*[partial(self.number, address) for address in addresses])

    def length(self, address: str) -> float:
        """A length of the record in mm, or `Missing`."""
        return self.number(address) * self._mm()

    def lengths(self, *addresses: str) -> tuple[float, ...]:
        """Lengths of the record in mm, all or one `Missing`."""
        scale = self._mm()
        return tuple([value * scale for value in self.numbers(*addresses)])

    def span(self, address: str) -> tuple[float, float]:
        """A length of the record or its [smallest, largest], in mm; a single one is both."""
        value, scale = known(self.find(address), address), self._mm()
        low, high = value if isinstance(value, list) else (value, value)
        return float(low) * scale, float(high) * scale

    def need_cell(self) -> None:
        """`Missing` where the record names a cell that is not there."""
        if self._parts["cell"] is None:
            raise Missing("record.cell")

    def _mm(self) -> float:
        return MM_PER_UNIT[self.find("record.units")]

    def _look(self, address: str) -> Any:
        """What stands at an address, looked up once; for a cell, once in its life."""
        kept = self._of_cell if address.startswith("cell:") else self._values
        found = kept.get(address, _UNSEEN)
        if found is _UNSEEN:
            part, _, path = address.rpartition(":")
            found = self._parts[part]
            for key in path.split("."):
                found = found.get(key) if isinstance(found, dict) else getattr(found, key, None)
            kept[address] = found
        self._values[address] = found
        return found

    # recording

    def attempt(self, work: Callable[[], T]) -> Attempt[T]:
        """Do it, whatever it misses, and keep what it asked."""
        asked: Trail = []
        self._open.append(asked)
        try:
            return Attempt(work(), (), asked)
        except Missing as error:
            asked.extend(error.addresses)
            return Attempt(None, error.addresses, asked)
        finally:
            self._open.pop()

    def once(self, name: str, work: Callable[[], T]) -> T:
        """The result of `work`, computed once for these facts; what it misses is raised each time.

        Groups share what is costly by name (`motion.legs@30`). `work` must depend
        on nothing but these facts.
        """
        return self._once(self._memo, name, work)

    def once_per_cell(self, name: str, work: Callable[[], T]) -> T:
        """The same for what depends on nothing but the cell: a record's next value keeps it."""
        return self._once(self._of_cell, name, work)

    def _once(self, memo: Memo, name: str, work: Callable[[], T]) -> T:
        kept = memo.get(name)
        if kept is None:
            kept = memo[name] = self.attempt(work)
        self._open[-1].append(kept.asked)
        if kept.missing:
            raise Missing(*kept.missing)
        return cast("T", kept.result)


def _memo_of(cell: Cell | None) -> Memo:
    """What was worked out from this very cell before: a cell is never changed in place."""
    for known_cell, memo in _OF_CELLS:
        if known_cell is cell:
            return memo
    memo = {}
    _OF_CELLS[:] = [(cell, memo), *_OF_CELLS[: _CELLS_KEPT - 1]]
    return memo


def _number(found: Any) -> float | None:
    if isinstance(found, bool) or not isinstance(found, int | Decimal):
        return None
    return float(found)


def known(value: T | None, address: str) -> T:
    """The value, or `Missing` with its address where there is none."""
    if value is None:
        raise Missing(address)
    return value


def gather(*parts: Callable[[], T]) -> tuple[T, ...]:
    """Every part, or one `Missing` that names what all of them lack."""
    found: list[T] = []
    absent: list[str] = []
    for part in parts:
        try:
            found.append(part())
        except Missing as error:
            absent.extend(error.addresses)
    if absent:
        raise Missing(*dict.fromkeys(absent))
    return tuple(found)


def both(one: Callable[[], T], other: Callable[[], U]) -> tuple[T, U]:
    """`gather` for two things of different kinds."""
    parts: tuple[Callable[[], Any], ...] = (one, other)
    first, second = gather(*parts)
    return first, second


def lacking(work: Callable[[], object]) -> Callable[[], float]:
    """A computation of which it is known already that `work` misses something."""

    def ask() -> float:
        work()
        raise AssertionError("nothing is missing")

    return ask


def addresses_in(*trails: Trail) -> tuple[str, ...]:
    """Every address of some trails once, in the order of asking."""
    found: dict[str, None] = {}
    seen: set[int] = set()

    def go(trail: Trail) -> None:
        if id(trail) in seen:
            return
        seen.add(id(trail))
        for item in trail:
            if isinstance(item, str):
                found[item] = None
            else:
                go(item)

    for trail in trails:
        go(trail)
    return tuple(found)


def asks_for(trail: Trail, address: str, known_trails: dict[int, bool]) -> bool:
    """Whether an address is in a trail; shared ones are looked through once."""
    if id(trail) not in known_trails:
        known_trails[id(trail)] = address in trail or any(
            asks_for(item, address, known_trails) for item in trail if not isinstance(item, str)
        )
    return known_trails[id(trail)]
