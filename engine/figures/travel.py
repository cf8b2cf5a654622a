"""How long a leg takes and how fast the fingers go on it, at a percentage of full speed.

Ways are mm or degrees of the axes, and mm at the fingers. Percent scales speed
and never acceleration. The approach belongs to the last move of a leg that
brings the fingers nearer; its speed is that of the fingers, and never above what
the stage allows. A move that is shorter than the approach is all approach; the
move before it, which ends at rest, stays as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from math import inf

from engine.figures.axes import TipShare, axis_of, limits_of, resultant, tip_share
from engine.figures.legs import Move, Pair, Way, station_of, way_of
from engine.figures.model import Facts, Missing, both, gather
from engine.figures.profile import (
    Approach,
    Limits,
    peak_to_rest,
    seconds_to_rest,
    slowest,
)

Stretch = tuple[float, Limits, Approach | None]


@dataclass(frozen=True, slots=True)
class Mover:
    """One move with what its axes can do. `shares` are asked only where the tip matters."""

    move: Move
    straight: bool
    limits: tuple[Limits, ...]
    shares: tuple[TipShare | None, ...] = ()
    approach: Approach | None = None

    def ways(self, pair: Pair) -> tuple[float, ...]:
        """The signed way of each axis."""
        return tuple(shift.way(pair) for shift in self.move)

    def tip_way(self, ways: tuple[float, ...]) -> float:
        """How far the fingers go, in mm."""
        return resultant(
            (s, way) for s, way in zip(self.shares, ways, strict=True) if s is not None
        )

    def seconds(self, ways: tuple[float, ...]) -> float:
        """From rest to rest: the joint path, or the slowest of axes on their own."""
        return max((seconds_to_rest(*stretch) for stretch in self._stretches(ways)), default=0.0)

    def tip_speed(self, ways: tuple[float, ...]) -> float:
        """The highest speed of the fingers in mm/s, each axis at the highest it reaches."""
        moving = [i for i, way in enumerate(ways) if way]
        peaks = [peak_to_rest(*stretch) for stretch in self._stretches(ways)]
        if self.straight and moving:
            speeds = {i: peaks[0] * ways[i] for i in moving}
        else:
            speeds = {i: p if ways[i] > 0 else -p for i, p in zip(moving, peaks, strict=True)}
        shares = ((self.shares[i], speed) for i, speed in speeds.items())
        return resultant((share, speed) for share, speed in shares if share is not None)

    def along_tip(self, ways: tuple[float, ...]) -> Limits | None:
        """Speed and braking of the fingers on their way, or None where they do not move."""
        tip = self.tip_way(ways)
        if not tip:
            return None
        share = self._joint(ways)
        return Limits(share.speed * tip, share.acceleration * tip, share.braking * tip)

    def _joint(self, ways: tuple[float, ...]) -> Limits:
        pairs = zip(self.limits, ways, strict=True)
        return slowest([limits.along(abs(way)) for limits, way in pairs if way])

    def _stretches(self, ways: tuple[float, ...]) -> list[Stretch]:
        """What has to be run at once: the whole way as 1, or the way of each axis."""
        if not any(ways):
            return []
        tip = self.tip_way(ways) if self.approach else 0.0
        if self.straight:
            return [(1.0, self._joint(ways), self._slowed(1.0, tip))]
        pairs = [(limits, abs(way)) for limits, way in zip(self.limits, ways, strict=True) if way]
        return [(way, limits, self._slowed(way, tip)) for limits, way in pairs]

    def _slowed(self, way: float, tip: float) -> Approach | None:
        """The part of the approach that falls to a way while the fingers go `tip`."""
        if self.approach is None or not tip:
            return None
        return Approach(self.approach.length * way / tip, self.approach.speed * way / tip)


def stages(facts: Facts) -> list[float]:
    """Stages of prove-out in percent of full speed, each above 0 and at most 100."""
    percents = [float(stage) for stage in facts.record.lot.stages or ()]
    if not percents or not all(0 < percent <= 100 for percent in percents):
        raise Missing("lot.stages")
    return percents


def approach_to(facts: Facts, station: str) -> Approach | None:
    """The approach in mm and mm/s; None where it is none, or where nothing is handed over."""
    handed = station_of(facts, station).does in ("take", "give")
    given = facts.record.approach.get(station)
    if not handed and (given is None or given.length is None):
        return None
    (length,), (speed,) = gather(
        lambda: facts.length(f"approach.{station}.length"),
        lambda: facts.number(f"approach.{station}.speed"),
    )
    if speed <= 0 or length < 0:
        raise Missing(f"approach.{station}.{'speed' if speed <= 0 else 'length'}")
    return Approach(length, speed) if length > 0 else None


def mover(facts: Facts, way: Way, number: int, percent: float, *, tip: bool = False) -> Mover:
    """One move of a leg at a percentage; `tip` asks for what the fingers feel of it, too."""
    name = f"travel.mover.{way.leg}.{number}@{percent}{'tip' if tip else ''}"
    return facts.once(name, lambda: _mover(facts, way, number, percent, tip))


def _mover(facts: Facts, way: Way, number: int, percent: float, tip: bool) -> Mover:
    move, near = way.moves[number], number == approaching(facts, way)
    limits, approach = both(
        lambda: gather(*(partial(limits_of, facts, shift.axis) for shift in move)),
        lambda: approach_to(facts, way.end) if near else None,
    )
    asked = [partial(tip_share, facts, s.axis) for s in move] if tip or approach else []
    able = tuple(one.at(percent) for one in limits)
    return Mover(move, way.straight and len(move) > 1, able, gather(*asked), approach)


def approaching(facts: Facts, way: Way) -> int:
    """The number of the move that has the approach: the last that shifts the fingers."""
    for number in reversed(range(len(way.moves))):
        axes = (axis_of(facts, shift.axis) for shift in way.moves[number])
        if any(axis.of == "loader" and axis.kind == "linear" for axis in axes):
            return number
    return len(way.moves) - 1


def movers(facts: Facts, way: Way, percent: float, *, tip: bool = False) -> tuple[Mover, ...]:
    """All moves of a leg; one `Missing` for all that they lack."""
    numbers = range(len(way.moves))
    return gather(*(partial(mover, facts, way, n, percent, tip=tip) for n in numbers))


def seconds_by_pocket(facts: Facts, leg: str, percent: float = 100.0) -> tuple[float, ...]:
    """Time of a leg in s for each pocket in use; one time where pockets do not matter."""
    return facts.once(f"travel.seconds.{leg}@{percent}", lambda: _seconds(facts, leg, percent))


def _seconds(facts: Facts, leg: str, percent: float) -> tuple[float, ...]:
    way = way_of(facts, leg)
    total = [0.0] * len(way.pairs)
    for one in movers(facts, way, percent):
        known: dict[tuple[float, ...], float] = {}
        for place, pair in enumerate(way.pairs):
            ways = one.ways(pair)
            if ways not in known:
                known[ways] = one.seconds(ways)
            total[place] += known[ways]
    return tuple(total)


def tip_speed(facts: Facts, leg: str, percent: float = 100.0) -> float:
    """Highest speed of the fingers on a leg in mm/s, over all pockets.

    An upper bound: axes of a free move may reach their highest speeds at
    different moments.
    """
    return facts.once(f"travel.tip.{leg}@{percent}", lambda: _tip_speed(facts, leg, percent))


def _tip_speed(facts: Facts, leg: str, percent: float) -> float:
    way = way_of(facts, leg)
    fastest = 0.0
    for one in movers(facts, way, percent, tip=True):
        every = {one.ways(pair) for pair in way.pairs}
        fastest = max(fastest, *(one.tip_speed(ways) for ways in every))
    return fastest


def full_percent(facts: Facts, leg: str, speed: float) -> float:
    """Percent of full speed at which no move of a leg can pass a tip speed in mm/s.

    From the full speeds of the axes, whether a move is long enough to reach them
    or not. `inf` where nothing on the leg moves the fingers.
    """
    way = way_of(facts, leg)
    fastest = 0.0
    for one in movers(facts, way, 100.0, tip=True):
        pairs = zip(one.shares, one.limits, strict=True)
        able = resultant((share, lim.speed) for share, lim in pairs if share is not None)
        fastest = max(fastest, able)
    return 100.0 * speed / fastest if fastest else inf
