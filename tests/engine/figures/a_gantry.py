"""A gantry over a tray and a chuck whose taught positions agree, for tests to spoil.

`facts(set, drop)` changes single addresses: `record:`, `cell:` or `policy:` stands
before each. Numbers may be written as floats here.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from engine.figures.inputs import Facts
from engine.figures.kinds import Figure
from schemas.address import put, take_out
from schemas.book import Policy
from schemas.cell import Cell
from schemas.record import Record

_UP_AND_OVER = ["lift", "carriage+reach", "wrist", "lift"]

RECORD: dict[str, Any] = {
    "format": 2,
    "record": {"id": "wm-5q7k2m", "part": "Ring", "cell": "gantry", "units": "mm"},
    "jaws": {"kind": "chuck", "bite": 7.5, "release": "jaws_close_then_fingers_open"},
    "blank": {"shape": "round", "diameter": [71.6, 72.4], "height": 31.5},
    "part": {"shape": "round", "diameter": 70, "height": 29.8, "held": 64},
    "fingers": {
        "blank": {"bite": 11, "tip": -62, "settle": 0.6},
        "part": {"bite": 10, "tip": -60, "settle": 0.5},
    },
    "tray": {
        "pitch_across": 88,
        "pitch_along": 91.5,
        "across": 13,
        "along": 6,
        "pocket_depth": 6,
    },
    "positions": {
        "fetch": {"carriage": 50, "reach": 40, "lift": 110, "wrist": 0},
        "collect": {"carriage": 1500, "reach": 200, "lift": 146.5, "wrist": 180, "bed": 310},
        "seat": {"carriage": 1500, "reach": 200, "lift": 150, "wrist": 0, "bed": 310},
        "return": {"carriage": 50, "reach": 40, "lift": 108.5, "wrist": 180},
    },
    "approach": {
        "fetch": {"length": 20, "speed": 120, "stand_off": 0.5},
        "collect": {"length": 18, "speed": 55},
        "seat": {"length": 18, "speed": 55, "stand_off": 0.8},
        "return": {"length": 25, "speed": 100, "stand_off": 1.7},
    },
    "blow_off": {"seconds": 1.8},
    "lot": {"quantity": 340, "machining_seconds": 60, "stages": [12, 45, 100]},
}
_AXES = ["carriage", "reach", "lift", "wrist"]
CELL: dict[str, Any] = {
    "format": 1,
    "cell": {"name": "Gantry", "round": ["fetch", "collect", "seat", "return"]},
    "axes": {
        "carriage": {
            "of": "loader",
            "kind": "linear",
            "unit": "mm",
            "least": 0,
            "most": 1800,
            "speed": 1000,
            "acceleration": 2000,
            "along": "x",
            "sign": 1,
        },
        "reach": {
            "of": "loader",
            "kind": "linear",
            "unit": "mm",
            "least": 0,
            "most": 600,
            "speed": 600,
            "acceleration": 1500,
            "braking": 1000,
            "along": "y",
            "sign": 1,
        },
        "lift": {
            "of": "loader",
            "kind": "linear",
            "unit": "mm",
            "least": 0,
            "most": 500,
            "speed": 500,
            "acceleration": 1200,
            "along": "z",
            "sign": 1,
        },
        "wrist": {
            "of": "loader",
            "kind": "rotary",
            "unit": "deg",
            "least": -190,
            "most": 190,
            "speed": 180,
            "acceleration": 720,
            "sign": 1,
            "radius": 60,
        },
        "bed": {
            "of": "machine",
            "kind": "linear",
            "unit": "mm",
            "least": 0,
            "most": 400,
            "along": "x",
            "sign": 1,
        },
    },
    "grippers": {
        "near": {
            "carries": "blank",
            "offset_x": 60,
            "offset_y": 0,
            "offset_z": 0,
            "turned_by": "wrist",
        },
        "far": {
            "carries": "part",
            "offset_x": -60,
            "offset_y": 0,
            "offset_z": 0,
            "turned_by": "wrist",
        },
    },
    "bed": {
        "corner": "near left",
        "path": "row by row",
        "across_axis": "carriage",
        "along_axis": "reach",
        "up_axis": "lift",
    },
    "stations": {
        "fetch": {"place": "tray", "does": "take", "gripper": "near", "axes": _AXES},
        "collect": {"place": "jaws", "does": "take", "gripper": "far", "axes": [*_AXES, "bed"]},
        "seat": {"place": "jaws", "does": "give", "gripper": "near", "axes": [*_AXES, "bed"]},
        "return": {"place": "tray", "does": "give", "gripper": "far", "axes": _AXES},
    },
    "legs": {
        "fetch_collect": {"start": "fetch", "end": "collect"},
        "collect_seat": {"start": "collect", "end": "seat"},
        "seat_return": {"start": "seat", "end": "return"},
        "return_fetch": {"start": "return", "end": "fetch"},
    },
    "times": {"door": 1.5, "clamp": 0.8, "grip": 0.3, "reaction": 0.1},
}
for _leg in CELL["legs"].values():
    _leg |= {"path": "straight", "moves": _UP_AND_OVER, "via": {"lift": 400}}
POLICY: dict[str, Any] = {
    "travel_margin": 5,
    "clear_margin": 10,
    "agreement_tolerance": 0.3,
    "teaching_speed_most": 250,
}


def exact(value: Any) -> Any:
    """Floats as a person would have typed them."""
    if isinstance(value, float):
        return Decimal(repr(value))
    if isinstance(value, dict):
        return {key: exact(item) for key, item in value.items()}
    if isinstance(value, list):
        return [exact(item) for item in value]
    return value


def facts(
    changes: Mapping[str, Any] | None = None,
    drop: Iterable[str] = (),
    *,
    record: Mapping[str, Any] = RECORD,
    cell: Mapping[str, Any] | None = CELL,
    policy: Mapping[str, Any] = POLICY,
) -> Facts:
    """The gantry's facts with some addresses set and others taken out."""
    trees: dict[str, Any] = {
        "record": copy.deepcopy(dict(record)),
        "cell": copy.deepcopy(dict(cell)) if cell is not None else None,
        "policy": copy.deepcopy(dict(policy)),
    }
    for where, value in (changes or {}).items():
        tree, address = where.split(":")
        put(trees[tree], address, value)
    for where in drop:
        tree, address = where.split(":")
        take_out(trees[tree], address)
    return Facts(
        Record.model_validate(exact(trees["record"])),
        Cell.model_validate(exact(trees["cell"])) if trees["cell"] is not None else None,
        Policy.model_validate(exact(trees["policy"])),
    )


def named(figures: Iterable[Figure], name: str, at: str | None = None) -> Figure:
    """The one figure of a name, at a place if it is given."""
    found = [f for f in figures if f.name == name and at in (None, f.at)]
    assert len(found) == 1, [(f.name, f.at) for f in found]
    return found[0]
