"""One round of the loader as steps, each with its time in s for each pocket.

The machine stands from the moment its door starts to open until it is closed
again: that is the exchange. It reaches from the way to the first visit at the
jaws to the way out of the last one; everything else is work meanwhile. A cell
that takes the part away before it fetches the blank (two visits) has the tray
within its exchange, by the order of its round. The door moves on its own, before
the loader goes in and after it is out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from engine.figures.cell import does, hands_over, place_of, round_of
from engine.figures.geometry.sizes import fingers
from engine.figures.inputs import Facts, Missing, gather
from engine.figures.mechanics.legs import between, ends
from engine.figures.mechanics.transfer import piece_at
from engine.figures.mechanics.travel import seconds_by_pocket


@dataclass(frozen=True, slots=True)
class RoundStep:
    """One bar of the round: a leg, a rest, a door. One time, or one for each pocket."""

    name: str
    seconds: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Mean over the pockets in s."""
        return sum(self.seconds) / len(self.seconds)


@dataclass(frozen=True, slots=True)
class Order:
    """The stations of a round, cut where the machine starts: exchange first, then the rest."""

    exchange: tuple[str, ...]
    meanwhile: tuple[str, ...]


Steps = tuple[RoundStep, ...]
Ask = Callable[[], Steps]


def order_of(facts: Facts) -> Order:
    """The round cut at the longest way from a blank given to the jaws to the next part taken."""
    return facts.once_per_cell("rounds.order", lambda: _order(facts))


def _order(facts: Facts) -> Order:
    names = round_of(facts)
    at_jaws = [n for n, s in enumerate(names) if place_of(facts, s) == "jaws"]
    gives = [n for n in at_jaws if does(facts, names[n]) == "give"]
    takes = [n for n in at_jaws if does(facts, names[n]) == "take"] or gives[:1]
    if not gives:
        raise Missing("cell:cell.round")
    count = len(names)
    gaps = [(min((take - give - 1) % count for take in takes), give) for give in gives]
    idle, last = max(gaps, key=lambda gap: gap[0])
    turned = [names[(last + 1 + n) % count] for n in range(count)]
    return Order(tuple(turned[idle:]), tuple(turned[:idle]))


def _rest(facts: Facts, name: str, address: str) -> RoundStep:
    return RoundStep(name, (facts.number(address),))


def _door(facts: Facts, words: str) -> list[Ask]:
    return [lambda: (_rest(facts, words, "cell:times.door"),)]


def _leg(facts: Facts, start: str, end: str, percent: float) -> Steps:
    leg = between(facts, start, end)
    return (RoundStep(leg, seconds_by_pocket(facts, leg, percent)),)


def acts(facts: Facts, station: str) -> list[Ask]:
    """What happens at a station, in order: air, jaws, fingers, and their rest."""
    if not hands_over(facts, station):
        return []
    return [partial(facts.once, f"rounds.acts.{station}", lambda: _acts(facts, station))]


def _acts(facts: Facts, station: str) -> Steps:
    grip = [
        lambda: _rest(facts, f"{station}: fingers", "cell:times.grip"),
        lambda: _settle(facts, station),
    ]
    if place_of(facts, station) != "jaws":
        return gather(*grip)
    clamp = [lambda: _rest(facts, f"{station}: jaws", "cell:times.clamp")]
    if does(facts, station) == "take":
        return gather(*grip, *clamp)
    blow = [lambda: _rest(facts, f"{station}: blow-off", "blow_off.seconds")]
    fingers_first = facts.find("jaws.release") == "fingers_open_then_jaws_close"
    return gather(*blow, *(grip + clamp if fingers_first else clamp + grip))


def _settle(facts: Facts, station: str) -> RoundStep:
    address = f"{fingers(facts, piece_at(facts, station))}.settle"
    return _rest(facts, f"{station}: settle", address)


def _all(asks: Iterable[Ask]) -> Steps:
    return tuple([step for steps in gather(*asks) for step in steps])


def exchange(facts: Facts, percent: float) -> Steps:
    """From the door's opening to its closing."""
    return facts.once(f"rounds.exchange@{percent}", lambda: _exchange(facts, percent))


def _exchange(facts: Facts, percent: float) -> Steps:
    order = order_of(facts)
    inside = list(order.exchange)
    way = [*order.meanwhile[-1:], *inside, *order.meanwhile[:1]]
    asks = _door(facts, "door opens")
    if not order.meanwhile:  # the loader stays with the machine; it is there already
        asks += acts(facts, inside[0])
        way += inside[:1] if len(inside) > 1 else []
    for start, end in pairwise(way):
        asks.append(partial(_leg, facts, start, end, percent))
        asks += acts(facts, end) if end in inside and end != way[-1] else []
    return _all([*asks, *_door(facts, "door closes")])


def meanwhile(facts: Facts, percent: float) -> Steps:
    """The loader's work while the machine cuts."""
    return facts.once(f"rounds.meanwhile@{percent}", lambda: _meanwhile(facts, percent))


def _meanwhile(facts: Facts, percent: float) -> Steps:
    way = order_of(facts).meanwhile
    asks = acts(facts, way[0]) if way else []
    for start, end in pairwise(way):
        asks += [partial(_leg, facts, start, end, percent), *acts(facts, end)]
    return _all(asks)


def first_round(facts: Facts, percent: float) -> Steps:
    """Nothing comes out: from the first blank at its place to the door closed on it."""
    order = order_of(facts)
    turned = [*order.meanwhile, *order.exchange]
    brings = [n for n, s in enumerate(turned) if _brings(facts, s, "take", "blank")]
    begin = max(brings, default=len(order.meanwhile))
    way = [*turned[begin:], *turned[:1]]
    busy = {s for s in way[:-1] if not _handles(facts, s, "part")}
    return _all(_visit(facts, way, busy, percent, ends_inside=False))


def last_round(facts: Facts, percent: float) -> Steps:
    """Nothing goes in: from the door's opening to the last part given back. No machining in it."""
    order = order_of(facts)
    turned = [*order.exchange, *order.meanwhile]
    brings = [n for n, s in enumerate(turned) if _brings(facts, s, "give", "part")]
    end = min(brings, default=len(order.exchange)) + 1
    way = [*order.meanwhile[-1:], *turned[:end]]
    busy = {s for s in turned[:end] if not _handles(facts, s, "blank")}
    return _all(_visit(facts, way, busy, percent, ends_inside=True))


def _handles(facts: Facts, station: str, piece: str) -> bool:
    return hands_over(facts, station) and piece_at(facts, station) == piece


def _brings(facts: Facts, station: str, act: str, piece: str) -> bool:
    """Whether a piece starts or ends its way at this place of the cell."""
    outside = place_of(facts, station) in ("tray", "chute") and does(facts, station) == act
    return outside and piece_at(facts, station) == piece


def _visit(
    facts: Facts, way: list[str], busy: set[str], percent: float, *, ends_inside: bool
) -> Iterable[Ask]:
    """Steps along stations; those not busy are left out where a leg goes past them."""
    way = list(_past(facts, way, busy))
    inside = [place_of(facts, name) == "jaws" for name in way]
    opened, closed = inside[0], False
    if opened:
        yield from _door(facts, "door opens")
    if way[0] in busy:
        yield from acts(facts, way[0])
    for number in range(1, len(way)):
        if inside[number] and not opened:
            yield from _door(facts, "door opens")
            opened = True
        yield partial(_leg, facts, way[number - 1], way[number], percent)
        if opened and not closed and not any(inside[number:]):
            yield from _door(facts, "door closes")
            closed = True
        if way[number] in busy and (ends_inside or number < len(way) - 1):
            yield from acts(facts, way[number])


def _past(facts: Facts, way: list[str], busy: set[str]) -> Iterable[str]:
    """The stations without idle ones between two others that a leg joins."""
    legs = ends(facts)
    number = 0
    while number < len(way):
        yield way[number]
        ahead = number + 1
        while ahead < len(way) - 1 and way[ahead] not in busy:
            ahead += 1
        number = ahead if (way[number], way[min(ahead, len(way) - 1)]) in legs else number + 1
