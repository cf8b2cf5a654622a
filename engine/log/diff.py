"""What differs between two states of a document, value by value.

Exact: deltas are Decimal, in the value's own unit. Two spellings of one number
are no difference of value; they are counted apart. Applying the changes to the
old values gives the new ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from decimal import Context, Decimal

from engine.views import Change, PositionChange, Unusable
from schemas.address import Value, same_text, same_value
from schemas.document import kind_of
from schemas.number import MOST_DIGITS, is_measurable
from schemas.units import to_mm
from schemas.usable import is_number_field, is_usable

UnitOf = Callable[[str], str]
_EXACT = Context(prec=2 * MOST_DIGITS + 2)


def changes_between(
    old: Mapping[str, Value], new: Mapping[str, Value], unit_of: UnitOf, path: str = ""
) -> tuple[list[Change], int]:
    """Changes in the order of the new state, then what is gone; and how many are only respelt.

    With the path of the document, values that its fields cannot hold are marked as unusable.
    """
    changes, respelt = [], 0
    for address in list(dict.fromkeys([*new, *old])):
        one, other = old.get(address), new.get(address)
        if not same_value(one, other):
            changes.append(change(address, one, other, unit_of(address), path))
        elif not same_text(one, other):
            respelt += 1
    return changes, respelt


def change(address: str, old: Value | None, new: Value | None, unit: str, path: str = "") -> Change:
    """One change, with its delta where both sides are numbers; `path` as above."""
    numbers = is_measurable(old), is_measurable(new)
    delta = _delta(old, new) if all(numbers) else None
    return Change(address, old, new, unit, delta, _unusable(path, address, (old, new), numbers))


def _unusable(
    path: str, address: str, values: tuple[Value | None, Value | None], numbers: tuple[bool, bool]
) -> Unusable:
    kind = kind_of(path)
    if kind is None:
        return ""
    if is_number_field(kind, address):
        odd = [v is not None and not fits for v, fits in zip(values, numbers, strict=True)]
    else:
        odd = [v is not None and not is_usable(kind, address, v) for v in values]
    return "both" if all(odd) else "old" if odd[0] else "new" if odd[1] else ""


def delta_of(old: Value | None, new: Value | None) -> Decimal | None:
    """New minus old, exactly; None unless both are numbers that can be measured."""
    return _delta(old, new) if is_measurable(old) and is_measurable(new) else None


def _delta(old: Value | None, new: Value | None) -> Decimal | None:
    delta = _EXACT.subtract(Decimal(new), Decimal(old))  # type: ignore[arg-type]
    return delta if is_measurable(delta) else None


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
