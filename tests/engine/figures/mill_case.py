"""An invented mill with a two-gripper loader, whole enough that no figure misses anything."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any

from engine.figures.inputs import Facts
from engine.figures.kinds import Figure
from schemas.address import flatten, put, take_out
from schemas.book import Policy
from schemas.cell import Cell
from schemas.record import Record
from schemas.toml import read_toml

RECORD = """
format = 2
[record]
id = "wm-case01"
part = "Spacer"
cell = "mill"
units = "mm"
[program]
spindle_top = 3000
[jaws]
kind = "chuck"
inside_or_outside = "outside"
bite = 7.5
clamp_pressure = 17
force_per_bar = 500
force_least = 1500
force_most = 9000
jaw_mass = 0.6
jaw_radius = 50
[blank]
shape = "round"
diameter = [59.6, 60.4]
height = 31.5
material = "42CrMo4"
[part]
shape = "round"
diameter = 58
height = 29.8
held = 56
mass = 0.55
[fingers.blank]
form = "flat"
hold = "outside"
opening = 68
closed_limit = 52
bite = 9
thickness = 8
mass = 0.4
force = 320
force_without_air = 200
crush_limit = 900
friction = 0.2
[fingers.part]
form = "V"
half_angle = 45
hold = "outside"
opening = 64
closed_limit = 50
bite = 9
thickness = 8
mass = 0.5
force = 320
force_without_air = 200
crush_limit = 900
friction = 0.2
[tray]
pitch_across = 112.5
pitch_along = 98.3
across = 7
along = 4
first_across = 50
first_along = 55
pocket_shape = "round"
pocket_size = 62
pocket_depth = 6
plate_across = 780
plate_along = 405
unused = ["r4c7"]
[positions.fetch]
slide = 100
bridge = 50
lift = 200
[positions.seat]
slide = 1200
bridge = 300
lift = 180
[positions.collect]
slide = 1200
bridge = 300
lift = 178
[positions.drop]
slide = 110
bridge = 50
lift = 199
"""
CELL = """
format = 1
[cell]
name = "Mill"
axes = ["slide", "bridge", "lift"]
round = ["fetch", "collect", "seat", "drop"]
swap = "one visit"
payload_most = 20
[axes.slide]
of = "loader"
kind = "linear"
unit = "mm"
least = 0
most = 2000
speed = 1500
acceleration = 3000
braking = 3500
stop = 6000
along = "x"
sign = 1
[axes.bridge]
of = "loader"
kind = "linear"
unit = "mm"
least = 0
most = 800
speed = 1000
acceleration = 2000
braking = 2500
stop = 5000
along = "y"
sign = 1
[axes.lift]
of = "loader"
kind = "linear"
unit = "mm"
least = 0
most = 400
speed = 800
acceleration = 2000
braking = 2400
stop = 4000
along = "z"
sign = 1
[axes.table]
of = "machine"
kind = "linear"
unit = "mm"
acceleration = 9000
stop = 9000
along = "x"
sign = 1
[grippers.a]
carries = "blank"
mass = 2.5
closing = "x"
[grippers.b]
carries = "part"
mass = 2.6
closing = "y"
[bed]
across = 810
along = 450
corner = "near left"
path = "row by row"
across_axis = "slide"
along_axis = "bridge"
up_axis = "lift"
clear_height = 10
[stations.fetch]
place = "tray"
does = "take"
gripper = "a"
axes = ["slide", "bridge", "lift"]
over_tray = true
[stations.collect]
place = "jaws"
does = "take"
gripper = "b"
axes = ["slide", "bridge", "lift"]
[stations.seat]
place = "jaws"
does = "give"
gripper = "a"
axes = ["slide", "bridge", "lift"]
[stations.drop]
place = "tray"
does = "give"
gripper = "b"
axes = ["slide", "bridge", "lift"]
over_tray = true
[legs.to_machine]
start = "fetch"
end = "collect"
path = "free"
moves = ["lift", "slide+bridge", "lift"]
[legs.swap]
start = "collect"
end = "seat"
moves = ["lift", "table", "lift"]
[legs.back]
start = "seat"
end = "drop"
moves = ["lift", "slide+bridge", "lift"]
[legs.next]
start = "drop"
end = "fetch"
moves = ["lift", "slide+bridge", "lift"]
"""
POLICY = """
travel_margin = 5
hold_safety = 1.5
clamp_safety = 1.5
free_height_least = 2
finger_clearance_least = 2
squeeze_least = 1.5
web_least = 4
finger_room_least = 20
agreement_tolerance = 0.2
"""


def _tree(text: str) -> dict[str, Any]:
    return read_toml(text.encode(), "case.toml").tree


_TREES = {"": _tree(RECORD), "cell:": _tree(CELL), "policy:": _tree(POLICY)}


def inputs() -> list[str]:
    """Every address of the case, with cell: or policy: before it."""
    return [prefix + address for prefix, tree in _TREES.items() for address in flatten(tree)]


def split(address: str) -> tuple[str, str]:
    """`cell:axes.lift.stop` as ("cell:", "axes.lift.stop")."""
    prefix, colon, rest = address.rpartition(":")
    return prefix + colon, rest


def value(address: str) -> Any:
    """What the case says at an address."""
    prefix, rest = split(address)
    return flatten(_TREES[prefix])[rest]


def case(
    changes: Mapping[str, Any] | None = None, *, without: Iterable[str] = (), no_cell: bool = False
) -> Facts:
    """The case with other values at some addresses and others taken out."""
    trees = deepcopy(_TREES)
    for address, new in (changes or {}).items():
        prefix, rest = split(address)
        put(trees[prefix], rest, _exact(new))
    for address in without:
        prefix, rest = split(address)
        take_out(trees[prefix], rest)
    cell = None if no_cell else Cell.model_validate(trees["cell:"])
    record = Record.model_validate(trees[""])
    return Facts(record, cell, Policy.model_validate(trees["policy:"]))


def in_inches(factor: str = "25.4") -> Facts:
    """The same record with its lengths in inches; axis values stay as they are."""
    from schemas.fields import describe

    changes: dict[str, Any] = {"record.units": "in"}
    for address, old in flatten(_TREES[""]).items():
        described = describe(Record, address)
        if described is not None and described.unit == "length":
            changes[address] = _inches(old, Decimal(factor))
    return case(changes)


def _inches(old: Any, factor: Decimal) -> Any:
    if isinstance(old, list):
        return [_inches(item, factor) for item in old]
    return (Decimal(old) / factor).quantize(Decimal("1E-18"))


def _exact(new: Any) -> Any:
    if isinstance(new, float):
        return Decimal(repr(new))
    return [_exact(item) for item in new] if isinstance(new, list) else new


def by_name(found: Iterable[Figure]) -> dict[tuple[str, str], Figure]:
    """Figures by name and place; no two may share both."""
    table: dict[tuple[str, str], Figure] = {}
    for figure in found:
        assert (figure.name, figure.at) not in table, (figure.name, figure.at)
        table[figure.name, figure.at] = figure
    return table


def one(found: Iterable[Figure], name: str, at: str | None = None) -> Figure:
    """The one figure of that name and place."""
    (figure,) = [f for f in found if f.name == name and at in (None, f.at)]
    return figure
