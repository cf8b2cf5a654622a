"""Values, ages, people and changes in words, the same on every page.

Invariant: nothing here depends on colour, on the width of the screen, or on the
clock of the machine; the moment that counts as now is handed in.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from schemas.address import Value, show
from schemas.number import spell
from tui.safe import fit
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.views import Change, Confirmed, Draft, PositionChange, RunState, Who

SIGNED = {"yes": "signed off", "void": "sign-off void", "no": "not signed off"}
_AGES = ((60, 1, ""), (3600, 60, "min"), (86400, 3600, "h"), (86400 * 14, 86400, "d"))
_WEEK = 86400 * 7


def age(then: datetime, now: datetime) -> str:
    """How long ago, in one figure: `4 min`, `3 h`, `2 d`, `5 wk`."""
    seconds = max((now - then).total_seconds(), 0)
    for below, size, word in _AGES:
        if seconds < below:
            return f"{int(seconds // size)} {word}" if word else "now"
    return f"{int(seconds // _WEEK)} wk"


def ago(then: datetime, now: datetime) -> str:
    """How long ago, for a sentence."""
    text = age(then, now)
    return "just now" if text == "now" else f"{text} ago"


def moment(then: datetime) -> str:
    """A moment as the person's own clock shows it."""
    return then.astimezone().strftime("%Y-%m-%d %H:%M")


def unit_word(unit: str) -> str:
    """A unit as it is shown; a bare number has none."""
    return "" if unit in ("1", "length", "axis") else unit


def with_unit(value: Value | None, unit: str) -> str:
    """A value with its unit; words where there is none."""
    if value is None:
        return "no value"
    text = show(value)
    unit = unit_word(unit) if not isinstance(value, str | bool) else ""
    return f"{text} {unit}".rstrip()


def difference(old: Value | None, new: Value | None, delta: Decimal | None, unit: str) -> str:
    """What differs, physically where it can be said: `+0.650 mm`."""
    if delta is not None:
        sign = "+" if delta > 0 else ""
        return f"{sign}{spell(delta)} {unit_word(unit)}".rstrip()
    if old is None:
        return "new"
    return "taken out" if new is None else "changed"


def is_record(name: str) -> bool:
    """Whether a document is a record, and not a cell, the people or the policy."""
    return name not in ("people", "book") and not name.startswith("cells/")


def person(who: Who, me: str) -> str:
    """A person as the reader would say it."""
    return "you" if who.key and who.key == me else who.name or who.login or "unknown"


def people_of(drafts: Iterable[Draft], me: str) -> str:
    """Whose pencil there is: `you, R. Lind`."""
    return ", ".join(dict.fromkeys(person(draft.who, me) for draft in drafts))


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def run_words(run: RunState | None, now: datetime) -> str:
    """How the last run stands."""
    if run is None:
        return "never ran"
    if run.stopped is None:
        return f"run {run.number} on, {age(run.started, now)}"
    return f"run {run.number}, {ago(run.stopped, now)}"


def confirmed_words(confirmed: Confirmed | None) -> str:
    """Whether what is inked was read back at the machine."""
    if confirmed is None:
        return "never confirmed"
    return "confirmed" if confirmed.still else "inked since confirmed"


def moved_words(change: PositionChange) -> str:
    """A taught position that moved, as one vector."""
    parts = []
    if change.distance:
        parts.append(f"moved {change.distance:.3f} mm")
    if change.turn:
        parts.append(f"turned {change.turn:.3f} deg")
    axes = ", ".join(
        f"{axis} {'+' if delta > 0 else ''}{spell(delta)} {unit}"
        for axis, delta, unit in change.deltas
    )
    return f"{change.station} {' and '.join(parts) or 'respelt'}: {axes}"


def change_row(change: Change, width: int) -> StyledRow:
    """One change in a line: address, old, new, difference."""
    spare = max(width - 80, 0)
    name, side = 27 + min(spare // 4, 20), 14 + min(spare // 4, 10)
    gap = width - name - 2 * side - 9
    return (
        (fit(f"  {change.address}", name), ""),
        (" ", ""),
        (fit(show(change.old), side, right=True), ""),
        ("  -> ", ""),
        (
            fit(show(change.new) if change.new is not None else "nothing", side, right=True),
            "pencil",
        ),
        ("  ", ""),
        (fit(difference(change.old, change.new, change.delta, change.unit), max(gap, 8)), "strong"),
    )
