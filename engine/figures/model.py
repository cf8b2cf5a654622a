"""A figure is one computed value that carries its own judgement.

Inside the figures all lengths are mm, times s, forces N, masses kg, angles
degrees; a record in inches is converted once, where it is read (`Facts`). A
missing input gives `cannot tell` with the names of the inputs, never a guess.
`margin` is positive where the figure fits, negative where it does not, in the
figure's unit; `tight` is a positive margin smaller than the kind's `tight_share`
of the limit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Literal, TypeVar

from pydantic import BaseModel

from schemas.book import Policy
from schemas.cell import Cell
from schemas.record import Record

T = TypeVar("T")
U = TypeVar("U")
Verdict = Literal["fits", "tight", "does not fit", "cannot tell", "for information"]

MM_PER_INCH = 25.4  # exact: NIST SP 811 (2008), Appendix B.8
G = 9.80665  # m/s2, standard gravity: NIST SP 811 (2008), Appendix B.8


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


@dataclass(frozen=True, slots=True)
class Figure:
    """One value at one leg, station or stage (`at`), judged against its limit."""

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


class Missing(Exception):
    """Raised inside a computation; carries the addresses that were not there."""

    def __init__(self, *addresses: str) -> None:
        super().__init__(", ".join(addresses))
        self.addresses = addresses


Memo = dict[str, Any]
_CELLS_KEPT = 8
_OF_CELLS: list[tuple[Cell | None, Memo]] = []  # what follows from a cell alone, newest first


def _memo_of(cell: Cell | None) -> Memo:
    """What was worked out from this very cell before: a cell is never changed in place."""
    for known_cell, memo in _OF_CELLS:
        if known_cell is cell:
            return memo
    memo = {}
    _OF_CELLS[:] = [(cell, memo), *_OF_CELLS[: _CELLS_KEPT - 1]]
    return memo


@dataclass(frozen=True)
class Facts:
    """Everything that figures are computed from: record, cell (or None) and policy."""

    record: Record
    cell: Cell | None
    policy: Policy

    _memo: Memo = field(default_factory=dict, init=False, repr=False, compare=False)
    _of_cell: Memo = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_of_cell", _memo_of(self.cell))

    def once(self, name: str, work: Callable[[], T]) -> T:
        """The result of `work`, computed once for these facts; what it misses is raised each time.

        Groups share what is costly by name (`motion.legs@30`). `work` must depend
        on nothing but these facts.
        """
        return _once(self._memo, name, work)

    def once_per_cell(self, name: str, work: Callable[[], T]) -> T:
        """The same for what depends on nothing but the cell: a record's next value keeps it."""
        return _once(self._of_cell, name, work)

    def length(self, *addresses: str) -> tuple[float, ...]:
        """Lengths of the record in mm, all or `Missing` with every absent one."""
        scale = MM_PER_INCH if self.record.record.units == "in" else 1.0
        return tuple([value * scale for value in self.number(*addresses)])

    def number(self, *addresses: str) -> tuple[float, ...]:
        """Numbers of the record as they stand, all or `Missing`."""
        return _ask(self._memo, self.record, "", addresses)

    def of_cell(self, *addresses: str) -> tuple[float, ...]:
        """Numbers of the cell as they stand, all or `Missing` with `cell:` before the address."""
        return _ask(self._of_cell, self.cell, "cell:", addresses)

    def of_policy(self, *addresses: str) -> tuple[float, ...]:
        """Numbers of the policy, all or `Missing` with `policy:` before the address."""
        return _ask(self._memo, self.policy, "policy:", addresses)


def _once(memo: Memo, name: str, work: Callable[[], T]) -> T:
    if name not in memo:
        try:
            memo[name] = work()
        except Missing as error:
            memo[name] = error
    found = memo[name]
    if isinstance(found, Missing):
        raise Missing(*found.addresses)
    return found  # type: ignore[no-any-return]


def _ask(
    memo: Memo, model: BaseModel | None, prefix: str, addresses: tuple[str, ...]
) -> tuple[float, ...]:
    """Numbers of a model by address, each looked up once; all or `Missing`."""
    known_numbers = memo.setdefault(f"numbers of {prefix}", {})
    found, absent = [], []
    for address in addresses:
        if address not in known_numbers:
            known_numbers[address] = _number(model, address)
        value = known_numbers[address]
        if value is None:
            absent.append(prefix + address)
        else:
            found.append(value)
    if absent:
        raise Missing(*absent)
    return tuple(found)


def _number(found: Any, address: str) -> float | None:
    """The number at an address of a model; None where there is none, or something else."""
    for key in address.split("."):
        found = found.get(key) if isinstance(found, dict) else getattr(found, key, None)
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


def lacking(error: Missing) -> Callable[[], float]:
    """A computation of which it is known already what it misses."""

    def ask() -> float:
        raise error

    return ask


def judge(
    kind: FigureKind,
    at: str,
    compute: Callable[[], float],
    limit: Callable[[], float] | None = None,
    note: str = "",
) -> Figure:
    """Compute one figure; whatever is missing for value or limit makes it `cannot tell`."""
    missing: list[str] = []
    value, bound = _try(compute, missing), _try(limit, missing) if limit else None
    base = (kind.name, kind.group, at, value, kind.unit, bound)
    if missing:
        return Figure(*base, None, "cannot tell", kind, tuple(dict.fromkeys(missing)), note)
    assert value is not None
    if bound is None or kind.bound == "none":
        return Figure(*base, None, "for information", kind, (), note)
    # 8.5 against 7.5 + 1.0 must fit in inches too: what a float adds is no shortfall
    margin = round(value - bound if kind.bound == "least" else bound - value, 9)
    tight = max(kind.tight_share * abs(bound), kind.tight_least)
    verdict: Verdict = "does not fit" if margin < 0 else "tight" if margin < tight else "fits"
    return Figure(*base, margin, verdict, kind, (), note)


def _try(compute: Callable[[], float], missing: list[str]) -> float | None:
    try:
        return compute()
    except Missing as error:
        missing.extend(error.addresses)
        return None
