"""The tray: what its plate can hold, what is free between pockets, and its reach; all mm.

Nothing is judged that has no neighbour: a single row has no web along. Where
the policy makes no rule, only what runs into something else does not fit.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import over_tray, station_order
from engine.figures.geometry import grid, tray_reach
from engine.figures.geometry.sizes import WHATS, What, hold_of
from engine.figures.geometry.tray_plate import (
    WAYS,
    Direction,
    beside_open_finger,
    edge,
    layout,
    on_bed,
    opening_ways,
    play,
    room,
    single,
    standing,
    tip_over_plate,
    web,
)
from engine.figures.inputs import Facts, Missing, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge, judge_by_policy
from schemas.pocket import pocket_of
from schemas.record import Tray

_TRADE = "common practice, no source"
_BODY = "body: the larger of blank and part, at its largest"


def _least(name: str, formula: str, tight_least: float = 0.0) -> FigureKind:
    return FigureKind(
        name, "tray", "mm", formula, _TRADE, "least", tight_least=tight_least, section="tray"
    )


CAPACITY = FigureKind(
    "capacity", "tray", "pockets", "across x along − unused pockets", "arithmetic", section="tray"
)
FITS = FigureKind(
    "pockets that would fit",
    "tray",
    "pockets",
    "the most rows and columns with n·size + (n − 1)·room <= plate − 2·web; size: body or pocket, "
    "whichever is larger; room: the policy's or the web, and what open fingers take where their "
    f"sizes are known; {_BODY}",
    "arithmetic",
    section="tray",
)
WEB = _least("web", "pitch − pocket: material between two pockets")
EDGE = _least("edge", "plate's edge to the outermost pocket, at the narrower end")
ON_BED = _least("room on the bed", "room on the bed − size of the plate")
ROOM = _least("finger room", f"pitch − body: what is free between two neighbours; {_BODY}")
OPEN = _least(
    "open finger to its neighbour",
    "pitch − body/2 − opening/2 − finger's thickness, in the closing direction; in both where the "
    f"gripper turns; {_BODY}",
    tight_least=1.0,
)
PLAY = _least(
    "play in the pocket",
    "(pocket − largest size)/2, a side; a block in a round pocket over its corners",
    tight_least=0.1,
)
STANDING = FigureKind(
    "standing height", "tray", "mm", "height − pocket's depth", _TRADE, section="tray"
)
TIP = _least("finger tip over the plate", "height − pocket's depth − finger bite", tight_least=1.0)


def figures(facts: Facts) -> list[Figure]:
    """Capacity, web, finger room, depth, extent, and every pocket within travel.

    Nothing for a cell that has no station at a tray, unless the record has a tray.
    """
    if _no_tray(facts):
        return []
    found = [
        judge(facts, CAPACITY, "tray", lambda: float(len(grid.used(facts))), note=_stray(facts)),
        _fits(facts),
    ]
    for way in WAYS:
        found += _of_way(facts, way)
    for what in WHATS:
        found += _of_piece(facts, what)
    return found + tray_reach.figures(facts)


def _no_tray(facts: Facts) -> bool:
    try:
        without = not any(over_tray(facts, name) for name in station_order(facts))
    except Missing:  # no cell to say so
        return False
    said = (facts.find(f"tray.{name}") for name in Tray.model_fields)
    return without and all(value in (None, {}) for value in said)


def _of_way(facts: Facts, way: Direction) -> list[Figure]:
    rules = (
        [] if single(facts, way) else [(WEB, web, "web_least"), (ROOM, room, "finger_room_least")]
    )
    rules.append((EDGE, edge, "web_least"))
    found = []
    for kind, work, rule in rules:
        compute = partial(work, facts, way)
        found.append(judge_by_policy(facts, kind, way, compute, rule))
    return [*found, judge(facts, ON_BED, way, partial(on_bed, facts, way), _nothing)]


def _of_piece(facts: Facts, what: What) -> list[Figure]:
    found = [
        judge(facts, PLAY, what, partial(play, facts, what), _nothing),
        judge(facts, STANDING, what, partial(standing, facts, what)),
    ]
    if hold_of(facts, what) == "inside":  # the fingers go down within it, with room of their own
        return found
    found.append(judge(facts, TIP, what, partial(tip_over_plate, facts, what), _nothing))
    try:
        ways = opening_ways(facts, what)
    except Missing:
        return [*found, judge(facts, OPEN, what, lacking(partial(opening_ways, facts, what)))]
    if ways:
        free = partial(beside_open_finger, facts, what)
        found.append(judge(facts, OPEN, what, free, _nothing))
    return found


def _fits(facts: Facts) -> Figure:
    try:
        most = layout(facts)
    except Missing:
        return judge(facts, FITS, "plate", lacking(partial(layout, facts)))
    note = f"{most.across} across x {most.along} along{', turned by 90°' if most.turned else ''}"
    return judge(facts, FITS, "plate", lambda: float(layout(facts).pockets), note=note)


def _stray(facts: Facts) -> str:
    """Unused pockets that the tray does not have."""
    across, along = facts.find("tray.across"), facts.find("tray.along")
    if across is None or along is None:
        return ""
    stray = []
    for name in facts.find("tray.unused") or ():
        column, row = pocket_of(name)
        if column >= across or row >= along:
            stray.append(name)
    return f"not on the tray: {', '.join(stray)}" if stray else ""


def _nothing() -> float:
    return 0.0
