"""Values as a sheet prints them: the inked one, and beside it the pencilled one.

A number is printed as it was typed. What is not known is printed as an empty
line to be filled in by hand, never as zero.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from engine.exports.paper import SetUp
from schemas.address import Value
from schemas.fields import describe
from schemas.number import spell
from schemas.record import Record

GONE = "taken out"


@dataclass(frozen=True, slots=True)
class PrintedValue:
    """A name, what is inked under it (empty: not known), and what is pencilled, if anything."""

    label: str
    ink: str
    pencil: str = ""
    whole: bool = False  # a number: never cut short


def worded(value: Value | None, unit: str = "", join: str = ", ") -> str:
    """A value in words with its unit; empty where there is none. `join` is between items."""
    if value is None:
        return ""
    if isinstance(value, list):
        words = join.join(worded(item) for item in value)
    elif isinstance(value, bool):
        words = "yes" if value else "no"
    elif isinstance(value, int | Decimal):
        words = spell(value)
    else:
        words = str(value)
    return f"{words} {unit}" if words and unit else words


def entry(set_up: SetUp, label: str, *addresses: str, join: str = ", ") -> PrintedValue:
    """One line of a sheet, of one value or of several that are read together."""
    set_up.placed.update(addresses)

    def say(values: Callable[[str], Value | None]) -> str:
        words = (_said(a, values(a), set_up.unit(a)) for a in addresses)
        return join.join(w for w in words if w)

    ink, whole = say(set_up.inked.get), not any(_is_words(set_up, a) for a in addresses)
    if not any(address in set_up.pencil for address in addresses):
        return PrintedValue(label, ink, "", whole)
    return PrintedValue(label, ink, say(_pencilled(set_up.inked, set_up.pencil)) or GONE, whole)


def _said(address: str, value: Value | None, unit: str) -> str:
    """A value in words; one of a few choices without the strokes of its spelling."""
    words = worded(value, unit, " to " if address.startswith("blank.") else ", ")  # spans
    described = describe(Record, address)
    return words.replace("_", " ") if described and described.choices else words


def _is_words(set_up: SetUp, address: str) -> bool:
    return isinstance(set_up.inked.get(address), str)


def _pencilled(
    inked: Mapping[str, Value], pencil: Mapping[str, Value | None]
) -> Callable[[str], Value | None]:
    return lambda address: pencil[address] if address in pencil else inked.get(address)


def number(set_up: SetUp, address: str) -> PrintedValue:
    """A bare value for a table whose heading has the unit."""
    set_up.placed.add(address)
    ink = worded(set_up.inked.get(address))
    if address not in set_up.pencil:
        return PrintedValue("", ink, "", True)
    return PrintedValue("", ink, worded(set_up.pencil[address]) or GONE, True)


def keys(set_up: SetUp, above: str, depth: int) -> list[str]:
    """Keys below an address, inked or pencilled."""
    addresses = [*set_up.inked, *set_up.pencil]
    return list(dict.fromkeys(a.split(".")[depth] for a in addresses if a.startswith(f"{above}.")))


def stations(set_up: SetUp) -> list[str]:
    """Stations of the cell in the order of its round, then those that only the record has."""
    cell = set_up.facts.cell
    order = cell.station_order() if cell else []
    known = dict.fromkeys([*order, *keys(set_up, "positions", 1)])
    return [s for s in known if s not in order or cell is None or cell.stations[s].axes]
