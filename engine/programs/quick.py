"""The short way for the commonest lines: it says exactly what the long way would.

A line of nothing but N, G0 to G3, X Y Z, I J K, R and F in this order, within
the standard's limits, is carried out without making words of it. Anything else
is refused and changes nothing. Tests give each line both ways.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal
from re import Match

from .block import without_comment
from .path import Box
from .program import ProgramBuilder

Numbered = tuple[int, str]  # a line's number, and its text as `reader` squeezes it
LIMIT = 1e9  # as words.VALUE_LIMIT

# What is no number (`1.2.3`, `-`) float() refuses; a pattern that knew it would take longer.
_match = re.compile(
    "(?:N[0-9]{1,5})?(?:G0{0,4}([0-3]))?"
    + "".join(f"(?:{letter}([-+.0-9]{{1,16}}))?" for letter in "XYZIJKRF")
).fullmatch
_DIGITS = {"G0": "0", "G1": "1", "G2": "2", "G3": "3"}
_CODES = {digit: code for code, digit in _DIGITS.items()}
_LAST_AXIS = 4  # the pattern's groups are G, X Y Z, I J K, R, F


def run(builder: ProgramBuilder, lines: Iterator[Numbered]) -> Numbered | None:
    """Carry out lines up to the first that has to go the long way; that one, or None."""
    if builder.section.closed or not builder.simple:
        return next((line for line in lines if line[1]), None)
    return _run(builder, lines)


# One loop: a call for each of its parts would take as long as the part.
def _run(  # noqa: C901, PLR0912, PLR0915
    builder: ProgramBuilder, lines: Iterator[Numbered]
) -> Numbered | None:
    path = builder.section.path
    modal, box, x_factor = path.modal, path.box, path.x_factor
    pos, low, high = modal.pos, box.low, box.high
    absolute, scale = modal.absolute, modal.scale
    scaled = scale != 1.0
    in_force = _DIGITS.get(modal.motion or "")
    match, sqrt, kept = _match, math.sqrt, builder.blocks.kept
    blank = count = codes = 0
    refused: Numbered | None = None
    for line in lines:
        number, text = line
        found = None if text in kept else match(text) or _match_without_comment(text)
        if found is None:
            refused = line
            break
        last = found.lastindex
        if last is None:
            blank += 1 if text else 0
            continue
        g, x, y, z, i, j, k, r, f = found.groups()
        motion = g or in_force
        if motion is None or motion > "1" or not absolute:
            if motion is None or not _further(builder, motion, found, number):
                refused = line
                break
            count, codes, in_force = count + 1, codes + (g is not None), motion
            continue
        if last > _LAST_AXIS and (i or j or k or r):
            refused = line
            break
        to_x = to_y = to_z = None
        try:
            if x:
                to_x = float(x)
                if scaled:
                    to_x = _within(to_x) * scale
                if not low[0] <= to_x <= high[0]:
                    _grow(box, 0, to_x, number)
            if y:
                to_y = float(y)
                if scaled:
                    to_y = _within(to_y) * scale
                if not low[1] <= to_y <= high[1]:
                    _grow(box, 1, to_y, number)
            if z:
                to_z = float(z)
                if scaled:
                    to_z = _within(to_z) * scale
                if not low[2] <= to_z <= high[2]:
                    _grow(box, 2, to_z, number)
            if f and _within(float(f)) != modal.feed:
                builder.interpreter.set_feed(Decimal(f), path, number)
        except ValueError:
            refused = line
            break
        count += 1
        if g is not None:
            codes += 1
            if g != in_force:
                in_force = g
                modal.motion = _CODES[g]
                modal.frozen.clear()
        square, known = 0.0, True
        path.x_before = pos[0]
        if to_x is not None:
            start, pos[0] = pos[0], to_x
            if start is None:
                known = False
            else:
                way = (to_x - start) * x_factor
                square = way * way
        if to_y is not None:
            start, pos[1] = pos[1], to_y
            if start is None:
                known = False
            else:
                way = to_y - start
                square += way * way
        if to_z is not None:
            start, pos[2] = pos[2], to_z
            if start is None:
                known = False
            else:
                way = to_z - start
                square += way * way
        elif to_x is None and to_y is None:
            continue
        if motion == "0":
            if known:
                path.rapid_length += sqrt(square)
        elif known:
            length = sqrt(square)
            rate = modal.rate
            if rate:
                path.cut_length += length
                path.minutes += length / rate
            else:
                path.cut(length, number)
        else:
            path.notes.add("unknown_start", number)
        builder.interpreter.moved = True
    builder.took(blank, count, codes)
    return refused


def _match_without_comment(text: str) -> Match[str] | None:
    short = without_comment(text)
    return None if short is text else _match(short)


def _grow(box: Box, axis: int, value: float, line: int) -> None:
    """Let the box hold a value; ValueError beyond the limit (what the box holds is within)."""
    box.take(axis, _within(value), line)


def _within(value: float) -> float:
    """The number itself; ValueError beyond the limit."""
    if not -LIMIT <= value <= LIMIT:
        raise ValueError(value)
    return value


def _further(builder: ProgramBuilder, motion: str, found: Match[str], line: int) -> bool:
    """An arc, or a move by increments; False, with nothing changed, if it cannot."""
    path = builder.section.path
    modal = path.modal
    arc = motion > "1"
    _, x, y, z, i, j, k, r, f = found.groups()
    if not arc and (i or j or k or r):
        return False
    try:
        numbers = list(map(float, filter(None, (x, y, z, i, j, k, r, f))))
    except ValueError:
        return False
    if max(numbers, default=0.0) > LIMIT or min(numbers, default=0.0) < -LIMIT:
        return False
    code = _CODES[motion]
    if modal.motion != code:
        modal.motion = code
        modal.frozen.clear()
    if f and numbers[-1] != modal.feed:
        builder.interpreter.set_feed(Decimal(f), path, line)
    rest = iter(numbers)
    targets = [(axis, next(rest)) for axis, text in ((0, x), (1, y), (2, z)) if text]
    scale = modal.scale
    if scale != 1.0 or not modal.absolute:
        targets = path.aim(targets, line)  # none is left where every start is unknown
    if not arc:
        if targets:
            builder.interpreter.moved = True
            path.linear(targets, line, motion == "0")
        return True
    offsets = {axis: next(rest) * scale for axis, text in ((0, i), (1, j), (2, k)) if text}
    if targets or offsets:
        builder.interpreter.moved = True
        radius = next(rest) * scale if r else None
        wrong = path.arc(targets, line, motion == "2", offsets, radius)
        if wrong is not None:
            builder.ledger.problem(line, "arc", wrong)
    return True
