"""The short way for the commonest lines: it says exactly what the long way would.

A line of nothing but N, G0 to G3, X Y Z, I J K, R and F in this order, within
the standard's limits, is carried out without making words of it. Anything else
is refused and changes nothing. Tests give each line both ways.
"""

from __future__ import annotations

import re
from decimal import Decimal
from re import Match

from .path import Path, Targets
from .program import ProgramBuilder

_NUMBER = rb"([-+]?(?:[0-9]{1,7}\.?[0-9]{0,9}|\.[0-9]{1,9}))"
_WORDS = b"".join(b"(?:" + letter + _NUMBER + b")?" for letter in (b"X", b"Y", b"Z"))
_CENTRE = b"".join(b"(?:" + letter + _NUMBER + b")?" for letter in (b"I", b"J", b"K", b"R"))
match_line = re.compile(
    rb"(?:N[0-9]{1,5})?(?:G0{0,4}([0-3]))?" + _WORDS + _CENTRE + b"(?:F" + _NUMBER + b")?"
).fullmatch
_SIMPLE = {"G0": b"0", "G1": b"1", "G2": b"2", "G3": b"3"}
_NAMES = {digit: code for code, digit in _SIMPLE.items()}
_ARCS = (b"2", b"3")


def without_comment(text: bytes) -> bytes:
    """The line without one plain comment at its end; as it was if there is more to it."""
    start = text.find(b"(")
    if start < 0:
        start = text.find(b";")
        return text[:start] if start >= 0 and b")" not in text[:start] else text
    alone = text.find(b";", 0, start) < 0 and text.find(b")") == len(text) - 1
    return text[:start] if alone and text.find(b"(", start + 1) < 0 else text


def quick(builder: ProgramBuilder, found: Match[bytes], line: int) -> bool:
    """Carry out a line that `match_line` found; False, with nothing changed, if it cannot."""
    section = builder.section
    path = section.path
    modal = path.modal
    g, x, y, z, i, j, k, r, f = found.groups()
    motion = g or _SIMPLE.get(modal.motion or "")
    centred = i is not None or j is not None or k is not None
    if section.closed or motion is None or ((centred or r is not None) and motion not in _ARCS):
        return False
    builder.lines += 1
    if found.lastindex is None:
        return True
    section.used = True
    if g is not None:
        builder.code_words += 1
        if modal.motion != _NAMES[g]:
            modal.motion = _NAMES[g]
            modal.frozen.clear()
    if f is not None and float(f) != modal.feed:
        builder.interpreter.set_feed(Decimal(f.decode("ascii")), path, line)
    texts = enumerate((x, y, z))
    targets: Targets = [(axis, float(text)) for axis, text in texts if text is not None]
    if targets and (not modal.absolute or modal.scale != 1.0):
        targets = path.aim(targets, line)  # none is left where every start is unknown
    if targets or centred:
        builder.interpreter.moved = True
        if motion in _ARCS:
            _arc(builder, path, targets, (i, j, k, r), line)
        else:
            path.linear(targets, line, motion == b"0")
    return True


def _arc(
    builder: ProgramBuilder,
    path: Path,
    targets: Targets,
    texts: tuple[bytes | None, ...],
    line: int,
) -> None:
    scale = path.modal.scale
    *centre, r = texts
    offsets = {axis: float(text) * scale for axis, text in enumerate(centre) if text is not None}
    radius = None if r is None else float(r) * scale
    wrong = path.arc(targets, line, path.modal.motion == "G2", offsets, radius)
    if wrong is not None:
        builder.ledger.problem(line, "arc", wrong)
