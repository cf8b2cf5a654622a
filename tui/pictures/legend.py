"""What stands beside a tray's plan: each sign in words, what is left empty or out of reach, webs.

Invariant: whatever the plan shows by a sign stands here by name, so that the plan
can be read out. Lengths are in the record's unit, verdicts the engine's words.
"""

from __future__ import annotations

from collections.abc import Iterable

from engine.figures.geometry import grid
from engine.figures.geometry.axes import cell_of
from engine.figures.groups import tray
from engine.figures.model import Facts, Figure, Missing
from tui.pictures.drawing import OUT, UNUSED, USED, DrawnTray
from tui.pictures.grids import FAIR, Size
from tui.pictures.reaching import Reach, margin
from tui.pictures.signs import length, unit_of

MOST_NAMED = 8  # pockets that are listed one by one


def legend(facts: Facts, shown: DrawnTray, size: Size, reach: list[Reach] | Missing) -> list[str]:
    """The entries, each a line that is wrapped later."""
    return [
        *_order(shown, size),
        *_empty(facts, shown, size),
        *_reach(facts, shown, size, reach),
        *_rooms(facts),
        *_truth(facts, size),
    ]


def _order(shown: DrawnTray, size: Size) -> Iterable[str]:
    first = min(shown.order, key=lambda pocket: shown.order[pocket])
    if size.how == "signs":
        yield f"{USED} in use"
    yield f"numbers: order of fetching, {shown.path}"
    between = "," if first == (0, 0) else "; r1c1 is"
    yield f"first: {grid.name_of(first)}{between} {shown.corner}"
    hidden = [
        f"{letter}{low} to {letter}{high}"
        for letter, kept in (("c", size.columns), ("r", size.rows))
        for low, high in _gap(kept)
    ]
    if hidden:
        yield f"not drawn: {' and '.join(hidden)}"


def _gap(kept: tuple[int | None, ...]) -> Iterable[tuple[int, int]]:
    if None in kept:
        place = kept.index(None)
        before, after = kept[place - 1], kept[place + 1]
        if before is not None and after is not None:
            yield before + 2, after


def _empty(facts: Facts, shown: DrawnTray, size: Size) -> Iterable[str]:
    every = ((c, r) for r in range(shown.rows) for c in range(shown.columns))
    unused = [pocket for pocket in every if pocket not in shown.order]
    if unused:
        sign = UNUSED if size.how == "signs" else UNUSED * 2
        yield f"{sign} leave empty: {_names(unused)}"
    keep = cell_of(facts).bed.keep_empty or 0
    if keep > 0:
        yield f"load {max(len(shown.order) - keep, 0)}: {keep} more stay empty for what comes back"


def _names(pockets: Iterable[grid.Pocket]) -> str:
    names = [grid.name_of(pocket) for pocket in pockets]
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _reach(
    facts: Facts, shown: DrawnTray, size: Size, reach: list[Reach] | Missing
) -> Iterable[str]:
    if isinstance(reach, Missing):
        yield f"reach: cannot tell: {', '.join(reach.addresses)}"
        return
    for one in reach:
        if one.out:
            sign = {"pockets": f"{OUT}12{OUT}", "numbers": f"{OUT}12", "signs": OUT}[size.how]
            where = _block(one.out, shown)
            yield f"{sign} out of reach at {one.station}: {where}; {_short(facts, one)}"
    short = {one.station for one in reach if one.out}
    fine = dict.fromkeys(one.station for one in reach if one.station not in short)
    if fine:
        yield f"within reach: every pocket in use, at {' and '.join(fine)}"


def _block(out: frozenset[grid.Pocket], shown: DrawnTray) -> str:
    """Whole columns or whole rows where it is those; else pocket by pocket."""
    for letter, way in (("c", 0), ("r", 1)):
        lines = sorted({pocket[way] for pocket in out})
        run = lines == list(range(lines[0], lines[-1] + 1))
        if run and all(p in out for p in shown.order if lines[0] <= p[way] <= lines[-1]):
            low, high = f"{letter}{lines[0] + 1}", f"{letter}{lines[-1] + 1}"
            return f"all of {low}" if low == high else f"all of {low} to {high}"
    return _names(sorted(out, key=lambda pocket: (pocket[1], pocket[0])))


def _short(facts: Facts, one: Reach) -> str:
    name, unit, worst = one.axis, unit_of(facts), grid.name_of(one.worst)
    if one.least < 0:
        return f"{name} would be {length(facts, -one.least)} {unit} past its end at {worst}"
    keep = length(facts, margin(facts))
    return f"{name} has {length(facts, one.least)} {unit} left at {worst}, at least {keep}"


def _rooms(facts: Facts) -> Iterable[str]:
    found = tray.figures(facts)
    yield from (f.note for f in found if f.kind is tray.CAPACITY and f.note)
    for name in ("web", "finger room"):
        yield from _room(facts, name, [f for f in found if f.name == name])


def _room(facts: Facts, name: str, found: list[Figure]) -> Iterable[str]:
    if not found:
        return
    missing = dict.fromkeys(address for figure in found for address in figure.missing)
    if missing:
        yield f"{name}: cannot tell: {', '.join(missing)}"
        return
    limit = found[0].limit
    least = f", at least {length(facts, limit)}" if limit is not None else ""
    unit = "inches" if unit_of(facts) == "in" else "mm"
    parts = [f"{f.at} {length(facts, f.value)}" for f in found if f.value is not None]
    if len({f.verdict for f in found}) > 1:
        parts = [f"{part} {f.verdict}" for part, f in zip(parts, found, strict=True)]
        yield f"{name} in {unit}{least}: {', '.join(parts)}"
    else:
        yield f"{name} in {unit}{least}: {', '.join(parts)}: {found[0].verdict}"


def _truth(facts: Facts, size: Size) -> Iterable[str]:
    pitches = ("tray.pitch_across", "tray.pitch_along")
    counts = facts.record.tray.across, facts.record.tray.along
    try:
        facts.length(*(a for a, count in zip(pitches, counts, strict=True) if count != 1))
    except Missing as error:
        yield f"not to scale: cannot tell: {', '.join(error.addresses)}"
        return
    if size.stretch > FAIR:
        yield f"not to scale: drawn {size.stretch:.1f} times too high"
    elif size.stretch < 1 / FAIR:
        yield f"not to scale: drawn {1 / size.stretch:.1f} times too wide"
