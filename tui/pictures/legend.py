"""What stands beside a tray's plan: each sign in words, what is left empty or out of reach, webs.

Invariant: whatever the plan shows by a sign stands here by name, so that the plan
can be read out. Lengths are in the record's unit, verdicts the engine's words.
"""

from __future__ import annotations

from collections.abc import Iterable

from engine.views import CannotTell, Figure, TrayPlan, TrayReach
from engine.views.wording.lengths import length, unit_in_words
from schemas.pocket import Pocket, name_of
from tui.pictures.drawing import OUT, UNUSED, USED
from tui.pictures.grids import FAIR, Size

MOST_NAMED = 8  # pockets that are listed one by one


def legend(plan: TrayPlan, size: Size) -> list[str]:
    """The entries, each a line that is wrapped later."""
    return [
        *_order(plan, size),
        *_empty(plan, size),
        *_reach(plan, size),
        *plan.remarks,
        *_rooms(plan),
        *_truth(plan, size),
    ]


def _order(plan: TrayPlan, size: Size) -> Iterable[str]:
    first = min(plan.order, key=lambda pocket: plan.order[pocket])
    if size.how == "signs":
        yield f"{USED} in use"
    yield f"numbers: order of fetching, {plan.path}"
    between = "," if first == (0, 0) else "; r1c1 is"
    yield f"first: {name_of(first)}{between} {plan.corner}"
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


def _empty(plan: TrayPlan, size: Size) -> Iterable[str]:
    every = ((c, r) for r in range(plan.rows) for c in range(plan.columns))
    unused = [pocket for pocket in every if pocket not in plan.order]
    if unused:
        sign = UNUSED if size.how == "signs" else UNUSED * 2
        yield f"{sign} leave empty: {_names(unused)}"
    keep = plan.keep_empty
    if keep > 0:
        stay = "stays" if keep == 1 else "stay"
        yield f"load {max(len(plan.order) - keep, 0)}: {keep} more {stay} empty for what comes back"


def _names(pockets: Iterable[Pocket]) -> str:
    names = [name_of(pocket) for pocket in pockets]
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _reach(plan: TrayPlan, size: Size) -> Iterable[str]:
    if isinstance(plan.reach, CannotTell):
        yield f"reach: cannot tell: {', '.join(plan.reach.missing)}"
        return
    for one in plan.reach:
        if one.out:
            sign = {"pockets": f"{OUT}12{OUT}", "numbers": f"{OUT}12", "signs": OUT}[size.how]
            where = _block(one.out, plan)
            yield f"{sign} out of reach at {one.station}: {where}; {_short(plan, one)}"
    short = {one.station for one in plan.reach if one.out}
    fine = dict.fromkeys(one.station for one in plan.reach if one.station not in short)
    if fine:
        yield f"within reach: every pocket in use, at {' and '.join(fine)}"


def _block(out: frozenset[Pocket], plan: TrayPlan) -> str:
    """Whole columns or whole rows where it is those; else pocket by pocket."""
    for letter, way in (("c", 0), ("r", 1)):
        lines = sorted({pocket[way] for pocket in out})
        run = lines == list(range(lines[0], lines[-1] + 1))
        if run and all(p in out for p in plan.order if lines[0] <= p[way] <= lines[-1]):
            low, high = f"{letter}{lines[0] + 1}", f"{letter}{lines[-1] + 1}"
            return f"all of {low}" if low == high else f"all of {low} to {high}"
    return _names(sorted(out, key=lambda pocket: (pocket[1], pocket[0])))


def _short(plan: TrayPlan, one: TrayReach) -> str:
    name, unit, worst = one.axis, plan.unit, name_of(one.worst)
    if one.least < 0:
        return f"{name} would be {length(-one.least, unit)} {unit} past its end at {worst}"
    keep = length(plan.travel_margin, unit)
    return f"{name} has {length(one.least, unit)} {unit} left at {worst}, at least {keep}"


def _rooms(plan: TrayPlan) -> Iterable[str]:
    for name in dict.fromkeys(figure.name for figure in plan.rooms):
        yield _room(plan, name, [f for f in plan.rooms if f.name == name])


def _room(plan: TrayPlan, name: str, found: list[Figure]) -> str:
    missing = dict.fromkeys(address for figure in found for address in figure.missing)
    if missing:
        return f"{name}: cannot tell: {', '.join(missing)}"
    limit = found[0].limit
    least = f", at least {length(limit, plan.unit)}" if limit is not None else ""
    lead = f"{name} in {unit_in_words(plan.unit)}{least}"
    parts = [f"{f.at} {length(f.value, plan.unit)}" for f in found if f.value is not None]
    if len({f.verdict for f in found}) > 1:
        parts = [f"{part} {f.verdict}" for part, f in zip(parts, found, strict=True)]
        return f"{lead}: {', '.join(parts)}"
    return f"{lead}: {', '.join(parts)}: {found[0].verdict}"


def _truth(plan: TrayPlan, size: Size) -> Iterable[str]:
    if plan.scale.missing:
        yield f"not to scale: cannot tell: {', '.join(plan.scale.missing)}"
    elif size.stretch > FAIR:
        yield f"not to scale: drawn {size.stretch:.1f} times too high"
    elif size.stretch < 1 / FAIR:
        yield f"not to scale: drawn {1 / size.stretch:.1f} times too wide"
