"""Whether a pencil mark was overtaken: somebody else inked the same thing meanwhile.

The same thing is the same value, or, for a value of the coupled group (heights,
bites, jaws, fingers, tray, positions), any value of that group: they belong
together physically, so half of one person's and half of another's fits nobody.
What I inked myself never contests my own pencil.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.answers import Who
from engine.history.past import Past
from engine.history.pencil import PencilMark
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
    """Addresses whose inked value is another than at `base` through somebody else."""
    newer = past.after(base)
    touched: dict[str, Who] = {}
    before: dict[str, Value] | None = None
    for step in past.lives.get(key, []):
        if step.saved.id not in newer:
            before = past.values(step.path, step.new) if step.path else {}
            continue
        old = past.values(step.path, step.olds[0]) or {}
        new = past.values(step.path, step.new) or {}
        if before is None:
            before = old
        for address in {*old, *new}:
            if not same_value(old.get(address), new.get(address)):
                touched.pop(address, None)
                if step.saved.who.key != me:
                    touched[address] = step.saved.who
    start = before or {}
    return {a: w for a, w in touched.items() if not same_value(start.get(a), current.get(a))}
