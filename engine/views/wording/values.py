"""Values, and what differs between two of them.

Invariant: a number is said as it was typed. What is not there is `no value`, in each
column and sentence.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from engine.views.wording.counts import count
from schemas.address import Value, show
from schemas.number import spell

if TYPE_CHECKING:
    from engine.views import Change, Comparison, PositionChange

NO_VALUE = "no value"
UNREADABLE = "unreadable there"
_MOST = 44  # cells of a value in a column


def value_words(value: Value | None) -> str:
    """A value in full, on as many lines as it has."""
    return NO_VALUE if value is None else show(value)


def short(value: Value | None, most: int = _MOST) -> str:
    """A value on one line, cut where it is long."""
    text = " ".join(value_words(value).split())
    return text if len(text) <= most else f"{text[: most - 1]}…"


def unit_word(unit: str) -> str:
    """A unit as it is shown; a bare number has none."""
    return "" if unit in ("1", "length", "axis") else unit


def with_unit(value: Value | None, unit: str) -> str:
    """A value with its unit."""
    bare = value is None or isinstance(value, str | bool)
    return f"{value_words(value)} {'' if bare else unit_word(unit)}".rstrip()


def signed(delta: Decimal | None) -> str:
    """A difference with its sign; empty where there is none to say."""
    if delta is None:
        return ""
    return f"{'+' if delta > 0 else ''}{spell(delta)}"


def old_words(item: Change, most: int | None = None) -> str:
    """The value that was, marked where its field could not hold it; cut to `most` signs."""
    return _side(item.old, item.unusable in ("old", "both"), most)


def new_words(item: Change, most: int | None = None) -> str:
    """The value that is, likewise; of a text that nobody can read, so much."""
    if item.is_unreadable_text:
        return UNREADABLE
    return _side(item.new, item.unusable in ("new", "both"), most)


def address_words(item: Change) -> str:
    """Where a change stands; `the whole text` where that cannot be read any more."""
    return "the whole text" if item.is_unreadable_text else item.address


def _side(value: Value | None, unusable: bool, most: int | None) -> str:
    text = value_words(value) if most is None else short(value, most)
    return f"{text} (unusable)" if unusable else text


def difference(old: Value | None, new: Value | None, delta: Decimal | None, unit: str) -> str:
    """What differs, physically where it can be said: `+0.650 mm`."""
    if delta is not None:
        return f"{signed(delta)} {unit_word(unit)}".rstrip()
    if old is None:
        return "new"
    return "taken out" if new is None else "changed"


def moved_words(change: PositionChange) -> str:
    """A taught position that moved, as one vector."""
    parts = []
    if change.distance:
        parts.append(f"moved {change.distance:.3f} mm")
    if change.turn:
        parts.append(f"turned {change.turn:.3f} deg")
    axes = ", ".join(f"{axis} {signed(delta)} {unit}" for axis, delta, unit in change.deltas)
    return f"{change.station} {' and '.join(parts) or 'respelt'}: {axes}"


def differ_words(item: Comparison) -> str:
    """How much differs: `nothing differs`, `1 value differs`, `3 values differ`."""
    if item.unreadable:
        return f"cannot be compared: {'; '.join(item.unreadable)}"
    number = len(item.changes)
    words = f"{count(number, 'value')} differ{'s' if number == 1 else ''}"
    respelt = f" ({item.respelt} only spelt otherwise)" if item.respelt else ""
    return f"{words if number else 'nothing differs'}{respelt}"


def is_record(name: str) -> bool:
    """Whether a document is a record, and not a cell, the people or the policy."""
    return name not in ("people", "book") and not name.startswith("cells/")
