"""What differs between two states of a document, value by value.

Exact: deltas are Decimal, in the value's own unit. Two spellings of one number
are no difference of value; they are counted apart. Applying the changes to the
old values gives the new ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

from engine.views import Change, PositionChange
from schemas.address import Value, same_text, same_value
from schemas.units import to_mm

UnitOf = Callable[[str], str]


def changes_between(
    old: Mapping[str, Value], new: Mapping[str, Value], unit_of: UnitOf
) -> tuple[list[Change], int]:
    """Changes in the order of the new state, then what is gone; and how many are only respelt."""
    changes, respelt = [], 0
    for address in list(dict.fromkeys([*new, *old])):
        one, other = old.get(address), new.get(address)
        if not same_value(one, other):
            changes.append(change(address, one, other, unit_of(address)))
        elif not same_text(one, other):
            respelt += 1
    return changes, respelt


def change(address: str, old: Value | None, new: Value | None, unit: str) -> Change:
    """One change, with its delta where both sides are numbers."""
    return Change(address, old, new, unit, delta_of(old, new))


def delta_of(old: Value | None, new: Value | None) -> Decimal | None:
    """New minus old, exactly; None unless both are numbers."""
    if _is_number(old) and _is_number(new):
        return Decimal(new) - Decimal(old)  # type: ignore[arg-type]
    return None


def _is_number(value: Value | None) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def position_changes(changes: Iterable[Change]) -> list[PositionChange]:
    """Taught positions that moved, each as one vector.

    Only axes with a value on both sides count; the distance is the root of the
    sum of squares over the linear ones, in mm.
    """
    stations: dict[str, list[tuple[str, Decimal, str]]] = {}
    for item in changes:
        keys = item.address.split(".")
        if keys[0] == "positions" and len(keys) == 3 and item.delta is not None:
            stations.setdefault(keys[1], []).append((keys[2], item.delta, item.unit))
    return [_vector(station, deltas) for station, deltas in stations.items()]


def _vector(station: str, deltas: list[tuple[str, Decimal, str]]) -> PositionChange:
    linear = [float(to_mm(delta, unit)) for _, delta, unit in deltas if unit in ("mm", "in")]
    turns = [abs(float(delta)) for _, delta, unit in deltas if unit == "deg"]
    return PositionChange(station, tuple(deltas), math.hypot(*linear), max(turns, default=0.0))
