"""Handbook tables that come with the program; a name that is not listed has no value.

Densities are g/cm3, friction has no unit. The tables are read once; what they
say is never put in the place of a value that a person has to give.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

_DATA = Path(__file__).with_name("data")
_READ = {"quoted": "seen quoted, not in the original", "memory": "from memory"}
_PREFIX = re.compile(r"^(AISI|SAE|UNS|ENAW|EN|AA)(?=[A-Z]*\d|GJ)")
_TEMPER = re.compile(r"^(\d{4})(T\d{1,4}|O|H\d{2,3})$")


@dataclass(frozen=True, slots=True)
class Material:
    """One grade: density in g/cm3, its family and where the value is from."""

    names: tuple[str, ...]
    family: str
    density: float
    source: str


@dataclass(frozen=True, slots=True)
class FrictionPair:
    """Static friction of two families, dry and greasy, as handbooks print it."""

    families: tuple[str, ...]
    against: str
    dry: float
    greasy: float | None
    source: str


def plain_name(designation: str) -> str:
    """A designation without what people write differently: `EN AW-6061 T6` is `6061`."""
    tight = re.sub(r"[\s_/-]", "", designation).upper()
    return _TEMPER.sub(r"\1", _PREFIX.sub("", tight))


@cache
def materials() -> dict[str, Material]:
    """Every listed grade by its plain name."""
    data = _read("materials.toml")
    found: dict[str, Material] = {}
    for row in data["material"]:
        source = _source(data, row)
        grade = Material(tuple(row["names"]), row["family"], float(row["density"]), source)
        for name in grade.names:
            found[plain_name(name)] = grade
    return found


def material(designation: str) -> Material | None:
    """The listed grade of a designation, or None: there is no nearest one."""
    return materials().get(plain_name(designation))


@cache
def pairs() -> tuple[FrictionPair, ...]:
    """Every listed pair of families."""
    data = _read("friction.toml")
    return tuple(
        FrictionPair(
            tuple(row["families"]),
            row["against"],
            float(row["dry"]),
            float(row["greasy"]) if "greasy" in row else None,
            _source(data, row),
        )
        for row in data["pair"]
    )


def friction_of(family: str) -> FrictionPair | None:
    """What the table prints for a family against steel, or None."""
    return next((pair for pair in pairs() if family in pair.families), None)


def _source(data: dict[str, Any], row: dict[str, Any]) -> str:
    text = str(data["sources"][row["source"]])
    how = _READ[row["read"]]
    return text if how in text else f"{text} ({how})"


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((_DATA / name).read_text("utf-8"))
