"""How long a round takes: bars in s, at full speed and at each stage of prove-out.

cycle = exchange + max(machining, loader's work meanwhile), for each pocket; the
figures are means over the pockets. The first round brings a blank and takes no
part, the last one takes the last part and brings nothing. Machining is the
record's `lot.machining_seconds`; the door's two ways come on top of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

from engine.figures.inputs import Facts, Missing, both, gather, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.rounds import RoundStep, exchange, first_round, last_round, meanwhile
from engine.figures.mechanics.travel import stages
from engine.figures.verdicts import judge
from engine.views.pictures import CycleBar, Which

_TRADE = "arithmetic over the round; common practice, no source"
CYCLE = FigureKind(
    "cycle",
    "cycle",
    "s",
    "exchange + the longer of machining and the loader's work meanwhile; mean of all pockets",
    _TRADE,
    section="lot",
)
HOURLY = FigureKind(
    "parts an hour",
    "cycle",
    "1/h",
    "3600 / cycle",
    _TRADE,
    section="lot",
)
EXCHANGE = FigureKind(
    "exchange",
    "cycle",
    "s",
    "door opens, way to the jaws, part out, blow-off, blank in, way out, door closes: fingers, "
    "jaws and settling included",
    _TRADE,
    section="lot",
)
MEANWHILE = FigureKind(
    "loader's work meanwhile",
    "cycle",
    "s",
    "all legs and rests outside the exchange; longer than machining, it makes the machine wait",
    _TRADE,
    section="lot",
)
FIRST = FigureKind(
    "first round",
    "cycle",
    "s",
    "from the first blank at its place to the door closed on it; no part comes out",
    _TRADE,
    section="lot",
)
LAST = FigureKind(
    "last round",
    "cycle",
    "s",
    "machining of the last piece, door opens, part out and back to its place; no blank goes in",
    _TRADE,
    section="lot",
)


@dataclass(frozen=True, slots=True)
class Round:
    """A round as it goes on and on: what the machine waits for, and what it does not."""

    exchange: tuple[RoundStep, ...]
    meanwhile: tuple[RoundStep, ...]
    machining: float

    def cycle(self) -> float:
        """Mean over the pockets of exchange + max(machining, meanwhile), in s."""
        steps = (*self.exchange, *self.meanwhile)
        count = max((len(step.seconds) for step in steps), default=1)
        out, work = _by_pocket(self.exchange, count), _by_pocket(self.meanwhile, count)
        pairs = zip(out, work, strict=True)
        return sum(one + max(self.machining, other) for one, other in pairs) / count


def _by_pocket(steps: Iterable[RoundStep], count: int) -> list[float]:
    """Sum of steps for each pocket; what does not depend on it counts for all."""
    always, sums = 0.0, [0.0] * count
    for step in steps:
        if len(step.seconds) == 1:
            always += step.seconds[0]
        else:
            sums = [one + other for one, other in zip(sums, step.seconds, strict=True)]
    return [one + always for one in sums]


def _total(steps: Iterable[RoundStep]) -> float:
    return sum(step.mean for step in steps)


def machining(facts: Facts) -> float:
    """Machining time in s, from door closed to door open."""
    return facts.number("lot.machining_seconds")


def round_of(facts: Facts, percent: float = 100.0) -> Round:
    """The steady round at a percentage of full speed."""
    return facts.once(f"cycle.round@{percent}", lambda: _round(facts, percent))


def _round(facts: Facts, percent: float) -> Round:
    (out, work), cuts = both(
        lambda: gather(lambda: exchange(facts, percent), lambda: meanwhile(facts, percent)),
        lambda: machining(facts),
    )
    return Round(out, work, cuts)


def cycle(facts: Facts, percent: float = 100.0) -> float:
    """Cycle time in s at a percentage of full speed, mean of all pockets."""
    return facts.once(f"cycle.seconds@{percent}", lambda: round_of(facts, percent).cycle())


def first(facts: Facts, percent: float = 100.0) -> float:
    """First round in s, up to the door closed on the first blank."""
    return facts.once(f"cycle.first@{percent}", lambda: _total(first_round(facts, percent)))


def last(facts: Facts, percent: float = 100.0) -> float:
    """Last round in s, from the door closed on the last blank to its part given back."""
    return facts.once(f"cycle.last@{percent}", lambda: _last(facts, percent))


def _last(facts: Facts, percent: float) -> float:
    steps, cuts = both(lambda: last_round(facts, percent), lambda: machining(facts))
    return cuts + _total(steps)


def bars(facts: Facts, percent: float = 100.0, which: Which = "steady") -> list[CycleBar]:
    """The bars of a round, at the mean pocket; `Missing` where they cannot be told.

    The steady round begins when the door starts to open. Whoever waits at its
    end, loader or machine, has a bar for it.
    """
    if which == "first":
        return _row(first_round(facts, percent), 0.0)
    if which == "last":
        steps, cuts = both(lambda: last_round(facts, percent), lambda: machining(facts))
        return [CycleBar("machining", 0.0, cuts, "machining"), *_row(steps, cuts)]
    one = round_of(facts, percent)
    out, work = _total(one.exchange), _total(one.meanwhile)
    found = [*_row(one.exchange, 0.0), CycleBar("machining", out, one.machining, "machining")]
    found += _row(one.meanwhile, out)
    spare = one.machining - work
    waits = "loader waits" if spare > 0 else "machine waits"
    if spare:
        found.append(CycleBar(waits, out + min(work, one.machining), abs(spare), "waits"))
    return found


def _row(steps: Iterable[RoundStep], start: float) -> list[CycleBar]:
    row = []
    for step in steps:
        row.append(CycleBar(step.name, start, step.mean))
        start += step.mean
    return row


def figures(facts: Facts) -> list[Figure]:
    """Cycle and parts an hour at full speed and at each stage; what a round is made of."""
    full = "full speed"
    found = [
        *_at(facts, full, lambda: 100.0),
        judge(facts, EXCHANGE, full, lambda: _total(exchange(facts, 100.0))),
        judge(facts, MEANWHILE, full, lambda: _total(meanwhile(facts, 100.0)), note=_slow(facts)),
        judge(facts, FIRST, full, lambda: first(facts)),
        judge(facts, LAST, full, lambda: last(facts)),
    ]
    try:
        percents = stages(facts)
    except Missing:
        return [*found, judge(facts, CYCLE, "stages", lacking(partial(stages, facts)))]
    for percent in dict.fromkeys(percents):
        stage = partial(_stage, facts, percents.index(percent))
        found += _at(facts, f"stage {percent:g} %", stage)
    return found


def _stage(facts: Facts, number: int) -> float:
    return stages(facts)[number]


def _at(facts: Facts, at: str, percent: Callable[[], float]) -> list[Figure]:
    return [
        judge(facts, CYCLE, at, lambda: cycle(facts, percent())),
        judge(facts, HOURLY, at, lambda: _hourly(facts, percent())),
    ]


def _hourly(facts: Facts, percent: float) -> float:
    seconds = cycle(facts, percent)
    if seconds <= 0:
        raise Missing("lot.machining_seconds")
    return 3600.0 / seconds


def _slow(facts: Facts) -> str:
    try:
        one = round_of(facts)
    except Missing:
        return ""
    more = _total(one.meanwhile) - one.machining
    return f"the machine waits {more:.1f} s for the loader" if more > 0 else ""
