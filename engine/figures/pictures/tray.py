"""The tray from above: order of fetching, proportions, reach, webs; all lengths are mm.

Invariant: reach is asked pocket by pocket. A pocket counts as out of reach where
less travel is left than the policy wants, or less than nothing where it makes no
rule.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import travel_left
from engine.figures.geometry import grid
from engine.figures.geometry.pockets import stations, value_in
from engine.figures.geometry.tray_plate import WAYS, Direction, pocket
from engine.figures.groups import tray
from engine.figures.inputs import Facts, Missing, both, gather
from engine.views.pictures import CannotTell, TrayPlan, TrayReach, TrayScale
from schemas.pocket import Pocket

_USUAL = 0.8  # of the pitch is pocket, where nobody said
_ROOMS = (tray.WEB.name, tray.ROOM.name)


def tray_plan(facts: Facts) -> TrayPlan | CannotTell:
    """The tray with the numbers of its pockets, or all that is missing for one."""
    try:
        order, (path, corner) = both(lambda: _order(facts), lambda: _path_and_corner(facts))
    except Missing as error:
        return CannotTell(error.addresses)
    columns, rows = grid.size(facts)
    figures, reach = tray.figures(facts), _reach(facts)
    known_reach = reach if isinstance(reach, tuple) else ()
    return TrayPlan(
        unit=facts.find("record.units"),
        plate=facts.find("tray.plate") or "",
        columns=columns,
        rows=rows,
        order=order,
        path=path,
        corner=corner,
        round=facts.find("tray.pocket_shape") != "rectangle",
        scale=_scale(facts, columns, rows),
        keep_empty=facts.find("cell:bed.keep_empty") or 0,
        reach=reach,
        out=frozenset(each for one in known_reach for each in one.out),
        travel_margin=_margin(facts),
        rooms=tuple(f for name in _ROOMS for f in figures if f.name == name),
        remarks=tuple(f.note for f in figures if f.kind is tray.CAPACITY and f.note),
    )


def _order(facts: Facts) -> dict[Pocket, int]:
    grid.used(facts)  # says of a tray without pockets what it lacks, whatever the path
    return {each: number for number, each in enumerate(grid.in_order(facts), 1)}


def _path_and_corner(facts: Facts) -> tuple[str, str]:
    def bed(name: str) -> str:
        facts.need_cell()
        return facts.text(f"cell:bed.{name}")

    path, corner = gather(lambda: bed("path"), lambda: bed("corner"))
    return path, corner


def _scale(facts: Facts, columns: int, rows: int) -> TrayScale:
    """What of the proportions is not known is taken as usual; `missing` where there is a pitch."""
    x, y = (_pitch(facts, way) for way in WAYS)
    x, y = x or y or 1.0, y or x or 1.0
    try:
        well = pocket(facts)
    except Missing:
        well = (_USUAL * x, _USUAL * y)
    asked = [f"tray.pitch_{way}" for way, n in zip(WAYS, (columns, rows), strict=True) if n != 1]
    try:
        facts.lengths(*asked)
    except Missing as error:
        return TrayScale((x, y), well, error.addresses)
    return TrayScale((x, y), well, ())


def _pitch(facts: Facts, way: Direction) -> float:
    try:
        return max(facts.length(f"tray.pitch_{way}"), 0.0)
    except Missing:
        return 0.0


def _margin(facts: Facts) -> float:
    try:
        return facts.number("policy:travel_margin")
    except Missing:
        return 0.0


def _reach(facts: Facts) -> tuple[TrayReach, ...] | CannotTell:
    """Every axis that moves over the tray, station by station."""
    try:
        movers = gather(*(partial(grid.mover, facts, way) for way in WAYS))
        pairs = [(station, axis) for station in stations(facts) for axis in dict.fromkeys(movers)]
        return gather(*(partial(_at_station, facts, *pair) for pair in pairs))
    except Missing as error:
        return CannotTell(error.addresses)


def _at_station(facts: Facts, station: str, axis: str) -> TrayReach:
    used, keep = grid.used(facts), _margin(facts)
    values = {each: value_in(facts, station, axis, each) for each in used}
    left_at = {value: travel_left(facts, axis, value) for value in set(values.values())}
    left = {each: left_at[value] for each, value in values.items()}
    worst = min(used, key=lambda each: left[each])
    # what a float adds is no shortfall
    out = frozenset(each for each in used if round(left[each] - keep, 9) < 0)
    return TrayReach(station, axis, left[worst], worst, out)
