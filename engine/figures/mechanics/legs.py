"""The legs of a round as moves of axes between taught positions.

All ways are mm or degrees. An axis that a station does not name stands where the
round last put it. A station over the tray is taught at r1c1; the way of a leg
then depends on the pocket. Nothing here knows speeds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from engine.figures import cell
from engine.figures.cell import axes_at, end_of, hands_over, over_tray, scale_of, start_of
from engine.figures.geometry import grid
from engine.figures.inputs import Facts, Missing, gather, known
from schemas.pocket import Pocket

MOST_SAMPLES = 400  # pockets that are gone through one by one

PocketPair = tuple[Pocket, Pocket]  # pocket at the start and at the end of a leg
HERE: PocketPair = ((0, 0), (0, 0))


@dataclass(frozen=True, slots=True)
class Shift:
    """What one axis does in one move: its way at r1c1, and what a column and a row add."""

    axis: str
    base: float
    at_start: tuple[float, float] = (0.0, 0.0)
    at_end: tuple[float, float] = (0.0, 0.0)

    @property
    def by_pocket(self) -> bool:
        """Whether the way depends on the pocket."""
        return self.at_start != (0.0, 0.0) or self.at_end != (0.0, 0.0)

    def way(self, pair: PocketPair) -> float:
        """The signed way for a pocket at the start and one at the end."""
        (start_c, start_r), (end_c, end_r) = pair
        (sc, sr), (ec, er) = self.at_start, self.at_end
        return self.base + sc * start_c + sr * start_r + ec * end_c + er * end_r


Move = tuple[Shift, ...]  # axes that move together


@dataclass(frozen=True, slots=True)
class Lengths:
    """The signed ways of a move's axes: each that there is once, and which one a pair has."""

    distinct: tuple[tuple[float, ...], ...]
    of_pair: tuple[int, ...]  # empty where there is only one


@dataclass(frozen=True, slots=True)
class LegPath:
    """A leg: its moves one after another, and the pockets that it is gone with."""

    leg: str
    end: str
    straight: bool
    moves: tuple[Move, ...]
    lengths: tuple[Lengths, ...]
    pairs: tuple[PocketPair, ...]


def value_at(facts: Facts, station: str, axis: str) -> float | None:
    """Where an axis stands at a station, in mm or deg; None where no station names the axis."""
    where = _named_at(facts, station, axis)
    if where is None:
        return None
    return facts.number(f"positions.{where}.{axis}") * scale_of(facts, axis)


def _named_at(facts: Facts, station: str, axis: str) -> str | None:
    """The station that put the axis where it stands: itself, or the last before it."""
    if axis in axes_at(facts, station):
        return station
    order, known_ones = facts.find("cell:cell.round") or [], facts.keys("cell:stations")
    here = order.index(station) if station in order else 0
    before = [*order[here:], *order[:here]][::-1]
    return next((s for s in before if s in known_ones and axis in axes_at(facts, s)), None)


def moves_of(facts: Facts, name: str) -> list[list[str]]:
    """The moves of a leg, each the axes that move together."""
    moves = facts.once_per_cell(f"legs.moves.{name}", lambda: cell.moves_of(facts, name))
    return known(moves, f"cell:legs.{name}.moves")


def shift_of(facts: Facts, name: str, number: int, axis: str) -> Shift:
    """What an axis does in the leg's move of that number.

    An axis that moves once goes from start to end; one that moves again goes by
    way of the leg's `via`, and moves there only once.
    """
    key = f"legs.shift.{name}.{number}.{axis}"
    return facts.once(key, lambda: _shift(facts, name, number, axis))


def _shift(facts: Facts, name: str, number: int, axis: str) -> Shift:
    begin, finish = start_of(facts, name), end_of(facts, name)
    turns = [index for index, move in enumerate(moves_of(facts, name)) if axis in move]
    first, last = number == turns[0], number == turns[-1]
    start, end = gather(
        lambda: value_at(facts, begin, axis) if first else _via(facts, name, axis),
        lambda: value_at(facts, finish, axis) if last else _via(facts, name, axis),
    )
    if start is None or end is None:  # no station of the round names it: it never moves
        return Shift(axis, 0.0)
    at_start = at_end = (0.0, 0.0)
    if first and _grid_puts(facts, begin, axis):
        columns, rows = grid.step_of(facts, axis)
        at_start = (-columns, -rows)
    if last and _grid_puts(facts, finish, axis):
        at_end = grid.step_of(facts, axis)
    return Shift(axis, end - start, at_start, at_end)


def _via(facts: Facts, name: str, axis: str) -> float:
    return facts.number(f"cell:legs.{name}.via.{axis}") * scale_of(facts, axis)


def _grid_puts(facts: Facts, station: str, axis: str) -> bool:
    """Whether the place of the axis at a station depends on the pocket."""
    where = _named_at(facts, station, axis)
    return where is not None and over_tray(facts, where)


def way_of(facts: Facts, name: str) -> LegPath:
    """A leg as moves; `Missing` names everything that is not there at once."""
    return facts.once(f"legs.way.{name}", lambda: _way(facts, name))


def _way(facts: Facts, name: str) -> LegPath:
    moves = gather(
        lambda: _nothing_forgotten(facts, name),
        *(partial(_move, facts, name, n) for n in range(len(moves_of(facts, name)))),
    )
    together = any(len(move) > 1 for move in moves)
    straight = together and facts.text(f"cell:legs.{name}.path") == "straight"
    real = tuple(move for move in moves if move)
    by_pocket = any(shift.by_pocket for move in real for shift in move)
    pairs = _pairs(facts, name) if by_pocket else (HERE,)
    lengths = tuple(_lengths(move, pairs) for move in real)
    return LegPath(name, end_of(facts, name), straight, real, lengths, pairs)


def _lengths(move: Move, pairs: tuple[PocketPair, ...]) -> Lengths:
    if not any(shift.by_pocket for shift in move):
        return Lengths((tuple(shift.base for shift in move),), ())
    numbers: dict[tuple[float, ...], int] = {}
    of_pair = []
    for pair in pairs:
        ways = tuple([shift.way(pair) for shift in move])
        of_pair.append(numbers.setdefault(ways, len(numbers)))
    return Lengths(tuple(numbers), tuple(of_pair))


def _move(facts: Facts, name: str, number: int) -> Move:
    axes = dict.fromkeys(moves_of(facts, name)[number])
    shifts = gather(*(partial(shift_of, facts, name, number, axis) for axis in axes))
    return tuple(shift for shift in shifts if shift.base or shift.by_pocket)


def _nothing_forgotten(facts: Facts, name: str) -> Move:
    """A loader axis that differs between the ends must be in a move, those of the machine not."""
    start, end = start_of(facts, name), end_of(facts, name)
    moved = {axis for move in moves_of(facts, name) for axis in move}
    for axis in axes_at(facts, end):
        if axis in moved or cell.owner_of(facts, axis) == "machine":
            continue
        if value_at(facts, start, axis) != value_at(facts, end, axis):
            raise Missing(f"cell:legs.{name}.moves")
    return ()


def _pairs(facts: Facts, leg: str) -> tuple[PocketPair, ...]:
    """The pockets in use at the start and the end; from what is given back on to the next one."""
    ends = _served(facts, start_of(facts, leg)), _served(facts, end_of(facts, leg))
    if ends != ("given", "taken"):
        return tuple(_thinned([(pocket, pocket) for pocket in grid.used(facts)]))
    order = grid.in_order(facts)
    return tuple(_thinned(list(zip(order, [*order[1:], order[0]], strict=True))))


def _served(facts: Facts, name: str) -> str:
    """Whether a station over the tray is at the pocket given back to or at that taken from."""
    if not over_tray(facts, name):
        return ""
    if hands_over(facts, name):
        return "given" if cell.does(facts, name) == "give" else "taken"
    order = facts.find("cell:cell.round") or []
    before = order[order.index(name) - 1] if name in order else name
    gave = before in facts.keys("cell:stations") and cell.does(facts, before) == "give"
    return "given" if gave else "taken"


def _thinned(items: list[PocketPair]) -> list[PocketPair]:
    """At most about `MOST_SAMPLES` of them, evenly, with the first and the last."""
    stride = -(-len(items) // MOST_SAMPLES)
    return items if stride == 1 else [*items[::stride], items[-1]]


def in_order(facts: Facts) -> list[str]:
    """Names of all legs in the order of the round; those outside it come last."""
    return facts.once_per_cell("legs.in order", lambda: _in_order(facts))


def needed_in_order(facts: Facts) -> list[str]:
    """The same; `Missing` where the cell has no legs."""
    return known(in_order(facts) or None, "cell:legs")


def _in_order(facts: Facts) -> list[str]:
    places = {station: place for place, station in enumerate(cell.station_order(facts))}
    starts = {leg: start_of(facts, leg) for leg in facts.keys("cell:legs")}
    return sorted(starts, key=lambda leg: (places.get(starts[leg], len(places)), leg))


def between(facts: Facts, start: str, end: str) -> str:
    """The leg from one station to another, or `Missing` by the name it might have."""
    return known(ends(facts).get((start, end)), f"cell:legs.{start}_{end}")


def ends(facts: Facts) -> dict[tuple[str, str], str]:
    """The leg by the stations that it joins, the first of several."""
    return facts.once_per_cell("legs.ends", lambda: _ends(facts))


def _ends(facts: Facts) -> dict[tuple[str, str], str]:
    facts.need_cell()
    legs = reversed(facts.keys("cell:legs"))
    return {(start_of(facts, leg), end_of(facts, leg)): leg for leg in legs}
