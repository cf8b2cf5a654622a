"""How long a leg takes and how fast the fingers go on it, at a percentage of full speed.

Ways are mm or degrees of the axes, and mm at the fingers. Percent scales speed
and never acceleration. The approach belongs to the last move of a leg that
brings the fingers nearer; its speed is that of the fingers, and never above what
the stage allows. A move that is shorter than the approach is all approach; the
move before it, which ends at rest, stays as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from math import copysign, hypot, inf

from engine.figures.cell import hands_over, is_rotary, owner_of
from engine.figures.geometry.axes import TipShare, limits_of, resultant, tip_share
from engine.figures.inputs import Facts, Missing, both, gather
from engine.figures.mechanics.legs import LegPath, way_of
from engine.figures.mechanics.profile import (
    LastStretch,
    Limits,
    Share,
    peak,
    peak_to_rest,
    seconds,
    seconds_to_rest,
    slowest,
)

TravelStretch = tuple[float, Limits, LastStretch | None]


@dataclass(frozen=True, slots=True)
class Mover:
    """One move with what its axes can do at full speed; `n` counts its distinct lengths.

    `joints` are the limits along the whole way as 1, for moves that keep a line, and
    `paths` the same without an approach;
    `tips` how far the fingers go, in mm, empty with `shares` where that is not known.
    """

    straight: bool
    limits: tuple[Limits, ...]
    lengths: tuple[tuple[float, ...], ...]
    joints: tuple[Limits, ...]
    paths: tuple[Share, ...]
    shares: tuple[TipShare | None, ...]
    tips: tuple[float, ...]
    approach: LastStretch | None = None

    def seconds(self, percent: float) -> list[float]:
        """From rest to rest, for each length: the joint path, or the slowest of axes alone."""
        if self.straight and self.approach is None:
            return [one.seconds(percent) for one in self.paths]
        if self.approach is None:
            return [max(times) for times in self._of_each_axis(seconds, percent)]
        every = (self._stretches(n, percent) for n in range(len(self.lengths)))
        return [max(seconds_to_rest(*one) for one in stretches) for stretches in every]

    def tip_speed(self, percent: float) -> float:
        """The highest speed of the fingers in mm/s, each axis at the highest it reaches."""
        if self.straight and self.approach is None:
            paths = zip(self.paths, self.tips, strict=True)
            return max(one.top(percent) * tip for one, tip in paths)
        if self.approach is None:
            ways = zip(self._of_each_axis(peak, percent), self.lengths, strict=True)
            signed = {tuple(map(copysign, peaks, way)) for peaks, way in ways}
            return max(_resultant(zip(self.shares, peaks, strict=True)) for peaks in signed)
        return max(self._tip_speed(n, percent) for n in range(len(self.lengths)))

    def _of_each_axis(
        self, work: Callable[[float, Limits], float], percent: float
    ) -> Iterable[tuple[float, ...]]:
        """What axes on their own need for each length, worked out once for each way of each."""
        every = []
        for one, ways in zip(self.limits, zip(*self.lengths, strict=True), strict=True):
            limits = one.at(percent)
            found = {way: work(abs(way), limits) for way in set(ways)}
            every.append([found[way] for way in ways])
        return zip(*every, strict=True)

    def _tip_speed(self, n: int, percent: float) -> float:
        peaks = [peak_to_rest(*stretch) for stretch in self._stretches(n, percent)]
        if self.straight:
            return peaks[0] * self.tips[n]
        moving = zip(self.shares, self.lengths[n], peaks, strict=True)
        return _resultant((share, copysign(top, way)) for share, way, top in moving)

    def along_tip(self, n: int) -> Limits | None:
        """Full speed and braking of the fingers on their way, or None where they stand."""
        tip = self.tips[n]
        if not tip:
            return None
        share = slowest(self.limits, self.lengths[n])
        return Limits(share.speed * tip, share.acceleration * tip, share.braking * tip)

    def _stretches(self, n: int, percent: float) -> list[TravelStretch]:
        """What has to be run at once: the whole way as 1, or the way of each axis."""
        if self.straight:
            path = float(any(self.lengths[n]))
            return [(path, self.joints[n].at(percent), self._slowed(path, n))]
        pairs = zip(self.limits, self.lengths[n], strict=True)
        return [(abs(way), one.at(percent), self._slowed(abs(way), n)) for one, way in pairs]

    def _slowed(self, way: float, n: int) -> LastStretch | None:
        """The part of an approach that falls to a way while the fingers go theirs."""
        if self.approach is None or not self.tips[n]:
            return None
        share = way / self.tips[n]
        return LastStretch(self.approach.length * share, self.approach.speed * share)


def _resultant(shares: Iterable[tuple[TipShare | None, float]]) -> float:
    return resultant((share, amount) for share, amount in shares if share is not None)


def stages(facts: Facts) -> list[float]:
    """Stages of prove-out in percent of full speed, each above 0 and at most 100."""
    percents = [float(stage) for stage in facts.find("lot.stages") or ()]
    if not percents or not all(0 < percent <= 100 for percent in percents):
        raise Missing("lot.stages")
    return percents


def approach_to(facts: Facts, station: str) -> LastStretch | None:
    """The approach in mm and mm/s; None where it is none, or where nothing is handed over."""
    handed = hands_over(facts, station)
    if not handed and facts.find(f"approach.{station}.length") is None:
        return None
    length, speed = gather(
        lambda: facts.length(f"approach.{station}.length"),
        lambda: facts.number(f"approach.{station}.speed"),
    )
    if speed <= 0 or length < 0:
        raise Missing(f"approach.{station}.{'speed' if speed <= 0 else 'length'}")
    return LastStretch(length, speed) if length > 0 else None


def mover(facts: Facts, way: LegPath, number: int, *, tip: bool = False) -> Mover:
    """One move of a leg; `tip` asks for what the fingers feel of it, too."""
    if tip:
        _shares(facts, way, number)
    return facts.once(f"travel.mover.{way.leg}.{number}", lambda: _mover(facts, way, number))


def _shares(facts: Facts, way: LegPath, number: int) -> tuple[TipShare | None, ...]:
    asks = (partial(tip_share, facts, shift.axis) for shift in way.moves[number])
    return facts.once(f"travel.shares.{way.leg}.{number}", lambda: gather(*asks))


def _mover(facts: Facts, way: LegPath, number: int) -> Mover:
    move, near = way.moves[number], number == approaching(facts, way)
    limits, approach = both(
        lambda: gather(*(partial(limits_of, facts, shift.axis) for shift in move)),
        lambda: approach_to(facts, way.end) if near else None,
    )
    try:
        shares = _shares(facts, way, number)
    except Missing:
        if approach is not None:
            raise
        shares = ()
    lengths = way.lengths[number].distinct
    straight = way.straight and len(move) > 1
    joints = tuple([slowest(limits, ways) for ways in lengths]) if straight else ()
    paths = tuple([Share.of(joint) for joint in joints])
    tips = tuple(_tips(shares, lengths)) if shares else ()
    return Mover(straight, limits, lengths, joints, paths, shares, tips, approach)


def _tips(
    shares: tuple[TipShare | None, ...], lengths: tuple[tuple[float, ...], ...]
) -> list[float]:
    """How far the fingers go; axes square to each other are the plain case."""
    ways = [share.direction for share in shares if share is not None]
    if len(set(ways)) == len(shares) and "arm" not in ways:
        return [hypot(*one) for one in lengths]
    return [_resultant(zip(shares, one, strict=True)) for one in lengths]


def approaching(facts: Facts, way: LegPath) -> int:
    """The number of the move that has the approach: the last that shifts the fingers."""
    for number in reversed(range(len(way.moves))):
        axes = [shift.axis for shift in way.moves[number]]
        if any(owner_of(facts, a) == "loader" and not is_rotary(facts, a) for a in axes):
            return number
    return len(way.moves) - 1


def movers(facts: Facts, way: LegPath, *, tip: bool = False) -> tuple[Mover, ...]:
    """All moves of a leg; one `Missing` for all that they lack."""
    asks = [partial(mover, facts, way, n, tip=tip) for n in range(len(way.moves))]
    return facts.once(f"travel.movers.{way.leg}.{tip}", lambda: gather(*asks))


def seconds_by_pocket(facts: Facts, leg: str, percent: float = 100.0) -> tuple[float, ...]:
    """Time of a leg in s for each pocket in use; one time where pockets do not matter."""
    return facts.once(f"travel.seconds.{leg}@{percent}", lambda: _seconds(facts, leg, percent))


def _seconds(facts: Facts, leg: str, percent: float) -> tuple[float, ...]:
    way = way_of(facts, leg)
    total = [0.0] * len(way.pairs)
    for one, lengths in zip(movers(facts, way), way.lengths, strict=True):
        times = one.seconds(percent)
        if lengths.of_pair:
            total = [sofar + times[n] for sofar, n in zip(total, lengths.of_pair, strict=True)]
        else:
            total = [sofar + times[0] for sofar in total]
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
    for one in movers(facts, way, tip=True):
        fastest = max(fastest, one.tip_speed(percent))
    return fastest


def full_percent(facts: Facts, leg: str, speed: float) -> float:
    """Percent of full speed at which no move of a leg can pass a tip speed in mm/s.

    From the full speeds of the axes, whether a move is long enough to reach them
    or not. `inf` where nothing on the leg moves the fingers.
    """
    way = way_of(facts, leg)
    fastest = 0.0
    for one in movers(facts, way, tip=True):
        pairs = zip(one.shares, one.limits, strict=True)
        fastest = max(fastest, _resultant((share, limits.speed) for share, limits in pairs))
    return 100.0 * speed / fastest if fastest else inf
