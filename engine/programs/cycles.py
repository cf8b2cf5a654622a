"""Drilling cycles G81 to G89: the same units and axes as the path they are added to.

The hole's axis is the one across the plane. Every hole is counted at feed
from the R level to the bottom, once down and, where the tool feeds out, once
up; pecks change no feed length. Returns at rapid count as rapid length.

Source: NISTIR 6556, 3.5.16 (G81 to G89, sticky words, L repeats, R level in
G91), 3.5.20 (G98, G99); both from memory.
"""

from __future__ import annotations

from .modal import PLANES
from .path import Path, Targets

FEED_OUT = frozenset({"G74", "G84", "G85", "G89"})
WITH_DWELL = frozenset({"G82", "G86", "G88", "G89"})
CYCLES = frozenset({"G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89"}) | frozenset(
    {"G73", "G74", "G76"}  # chip breaking, left-hand tapping, fine boring: common practice
)


def drill(path: Path, code: str, axes: Targets, words: dict[str, float], line: int) -> str | None:
    """Carry out a drilling cycle. `axes`, `words` (R, P, L): as typed, P in the dialect's unit.

    Returns what is wrong in words, or None.
    """
    modal = path.modal
    third = PLANES[modal.plane][2]
    frozen = modal.frozen
    frozen.update({letter: words[letter] for letter in ("R", "P") if letter in words})
    for axis, value in axes:
        if axis == third:
            frozen["bottom"] = value
    if "R" not in frozen or "bottom" not in frozen:
        return f"{code} without its bottom or R level"
    repeats = max(int(words.get("L", 1.0)), 0)
    where = [(axis, value) for axis, value in axes if axis != third]
    if not modal.absolute and repeats > 1:
        first = path.aim(where, line)
        path.linear(first, line, rapid=True)
        where = [(axis, value * (repeats - 1)) for axis, value in where]
    path.linear(path.aim(where, line), line, rapid=True)
    if repeats:
        _holes(path, code, third, repeats, line)
    return None


def _holes(path: Path, code: str, third: int, repeats: int, line: int) -> None:
    """Go down and up `repeats` times at one place; the place does not change extents."""
    modal = path.modal
    frozen = modal.frozen
    level, bottom = frozen["R"] * modal.scale, frozen["bottom"] * modal.scale
    before = modal.pos[third]
    if not modal.absolute:
        if before is None:
            path.notes.add("unknown_increment", line)
            return
        level += before
        bottom += level
    path.linear([(third, level)], line, rapid=True)
    depth = abs(level - bottom) * (path.x_factor if third == 0 else 1.0)
    passes = 2 if code in FEED_OUT else 1
    path.box.take(third, bottom, line)
    path.cut(depth * passes * repeats, line)
    path.rapid_length += depth * (2 - passes) * repeats
    if code in WITH_DWELL:
        path.dwell += frozen.get("P", 0.0) * path.dialect.dwell_seconds * repeats
    if not modal.back_to_r and before is not None and before > level:
        path.linear([(third, before)], line, rapid=True)
