"""Whether a pencil mark was overtaken: somebody else inked the same thing meanwhile.

The same thing is the same value, or, for a value of the coupled group (heights,
bites, jaws, fingers, tray, positions), any value of that group: they belong
together physically, so half of one person's and half of another's fits nobody.
What I inked myself never contests my own pencil.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.drafts.marks import PencilMark
from engine.log.past import Past
from engine.views import Who
from schemas.address import Value, same_value
from schemas.record import is_coupled


def contested(
    past: Past, key: str, marks: Iterable[PencilMark], current: Mapping[str, Value], me: str
) -> dict[str, Who]:
    """Addresses among the marks that somebody else inked since, with who did it."""
    found: dict[str, Who] = {}
    by_base: dict[str, list[PencilMark]] = {}
    for mark in marks:
        by_base.setdefault(mark.base, []).append(mark)
    for base, group in by_base.items():
        touched = _touched_by_others(past, key, base, current, me)
        coupled = (
            next((who for address, who in reversed(touched.items()) if is_coupled(address)), None)
            if key.startswith("wm-")
            else None
        )
        for mark in group:
            if same_value(mark.value, current.get(mark.address)):
                continue
            who = touched.get(mark.address)
            if who is None and key.startswith("wm-") and is_coupled(mark.address):
                who = coupled
            if who is not None:
                found[mark.address] = who
    return found


def _touched_by_others(
    past: Past, key: str, base: str, current: Mapping[str, Value], me: str
) -> dict[str, Who]:
    """Addresses whose inked value is another than at `base` through somebody else.

    Who made the value that stands there counts, not who merged it in, and not what was
    inked at the same time and did not stay.
    """
    newer = past.after(base)
    if not newer:
        return {}
    start = _values_at(past, key, base)
    touched: dict[str, Who] = {}
    for row in past.rows(
        key, lambda address: not same_value(start.get(address), current.get(address))
    ):
        if (
            row.decided is None
            and row.saved.id in newer
            and same_value(row.new, current.get(row.address))
        ):
            touched.pop(row.address, None)
            touched[row.address] = row.saved.who
    return {address: who for address, who in touched.items() if who.key != me}


def _values_at(past: Past, key: str, commit: str) -> Mapping[str, Value]:
    """A document's values at a commit, wherever it lay then."""
    return past.values(*past.place_at(commit, key)) or {}
