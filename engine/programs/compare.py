"""What changed between two program texts, in words that a setter reads; line numbers from 1.

A change of meaning is never reported as one of looks: a number that is typed
differently and is equal is kind "spelling", since some dialects read a number
without a point in another unit (common practice, no source). Big texts and
long lists give counts, and say so.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator

from engine.views.programs import EndWord, ProgramChange, ProgramFacts

from .alignment import LineStretch, stretches
from .dialect import MILLING, Dialect
from .pairing import pairs
from .reader import read_program
from .stream import KEPT, lines_of
from .word_changes import WordChange, decoded, line_changes

SIZE_LIMIT = 4_000_000  # bytes of either text; beyond, only facts and counts
LINE_LIMIT = 200_000
CHANGE_LIMIT = 500
_BOM = b"\xef\xbb\xbf"
_MARKS = re.compile(rb"[(;]")
_UPPER = bytes.maketrans(bytes(range(97, 123)), bytes(range(65, 91)))
_COMMENTS = re.compile(rb"\([^()]*\)|;.*", re.DOTALL)
_NUMBER = re.compile(rb"(/[1-9]?)?N[0-9]+")


def compare_programs(
    old: bytes, new: bytes, *, end_codes: Iterable[str] = (), dialect: Dialect = MILLING
) -> list[ProgramChange]:
    """What changed from `old` to `new`; empty if every byte is the same.

    Raises ValueError for an end code that is none; never for the texts.
    """
    codes = tuple(end_codes)
    before = read_program(old, end_codes=codes, dialect=dialect)
    return compare_read(old, before, new, read_program(new, end_codes=codes, dialect=dialect))


def compare_read(
    old: bytes, before: ProgramFacts, new: bytes, after: ProgramFacts
) -> list[ProgramChange]:
    """The same for texts that have been read: `before` and `after` are their facts."""
    if before.sha256 == after.sha256:
        return []
    big = max(len(old), len(new)) > SIZE_LIMIT or max(before.lines, after.lines) > LINE_LIMIT
    found = _in_counts(before, after) if big else _by_line(old, new)
    ends = _ends(before.ending, after.ending)
    told = {(change.kind, change.new_line) for change in ends}
    rest = (change for change in found if (change.kind, change.new_line) not in told)
    changes = [*ends, *_limited(rest)]
    return changes or [ProgramChange("layout", None, None, "", "", "only line ends or padding")]


def _ends(before: EndWord | None, after: EndWord | None) -> list[ProgramChange]:
    """The code that ends the main program is another one."""
    old, new = before.code if before else "", after.code if after else ""
    if old == new:
        return []
    text = f"the program ends with {new or 'no end code'}, before with {old or 'no end code'}"
    lines = (before.line if before else None, after.line if after else None)
    return [ProgramChange("end", *lines, old, new, text)]


def _limited(changes: Iterable[ProgramChange]) -> list[ProgramChange]:
    """The first changes, and one that counts the others."""
    kept: list[ProgramChange] = []
    left = 0
    for change in changes:
        if len(kept) < CHANGE_LIMIT:
            kept.append(change)
        else:
            left += 1
    if left:
        kept.append(ProgramChange("more", None, None, "", str(left), f"and {left} more changes"))
    return kept


def _in_counts(before: ProgramFacts, after: ProgramFacts) -> Iterator[ProgramChange]:
    """For big texts: what the facts of both say."""
    pairs = (
        ("counts", "lines", before.lines, after.lines),
        ("counts", "bytes", before.size, after.size),
        ("word", "unit", before.unit or "none", after.unit or "none"),
        ("tool", "tools", _joined(before.tool_numbers), _joined(after.tool_numbers)),
        (
            "offset",
            "work offsets",
            *(_joined(o.code for o in f.work_offsets) for f in (before, after)),
        ),
        ("speed", "highest spindle speed", before.spindle_top, after.spindle_top),
        ("feed", "feeds", _feeds(before), _feeds(after)),
    )
    for kind, what, old, new in pairs:
        if old != new or kind == "counts":
            text = f"big text, not compared line by line: {what} {old} -> {new}"
            yield ProgramChange(kind, None, None, str(old), str(new), text[:300])


def _offsets(facts: ProgramFacts) -> str:
    return _joined(use.code for use in facts.work_offsets)


def _feeds(facts: ProgramFacts) -> str:
    return _joined(feed.value for feed in facts.feeds)


def _joined(items: Iterable[object]) -> str:
    return " ".join(map(str, items)) or "none"


class _Text:
    """Lines of one text that are not blank, with their numbers and their keys."""

    def __init__(self, text: bytes) -> None:
        every = enumerate(lines_of([text.removeprefix(_BOM)]), start=1)
        kept = [(number, raw[:KEPT]) for number, raw in every if raw.strip()]
        self.numbers = [number for number, _ in kept]
        self.raws = [raw for _, raw in kept]
        self.keys = list(map(key_of, self.raws))
        self.blank = (self.numbers[-1] if kept else 0) - len(kept)


def _by_line(old: bytes, new: bytes) -> Iterator[ProgramChange]:
    """Line by line: first what changed, last what was only renumbered or laid out anew."""
    before, after = _Text(old), _Text(new)
    counts: Counter[str] = Counter()
    for stretch in stretches(before.keys, after.keys):
        yield from _of_stretch(stretch, before, after, counts)
    texts = {"renumbered": "only N numbers changed", "layout": "only blanks or letter case changed"}
    for kind, text in texts.items():
        if counts[kind]:
            count = counts[kind]
            lines = "line" if count == 1 else "lines"
            yield ProgramChange(kind, None, None, "", str(count), f"{text} on {count} {lines}")
    if before.blank != after.blank:
        text = f"blank lines: {before.blank} -> {after.blank}"
        yield ProgramChange("layout", None, None, str(before.blank), str(after.blank), text)


def key_of(raw: bytes) -> bytes:
    """A line without its comments, N number, blanks and letter case."""
    text = raw
    if b"(" in text or b";" in text:
        text = _COMMENTS.sub(b"", text)
    text = text.translate(_UPPER, b" \t")
    return _NUMBER.sub(rb"\1", text, count=1) if _NUMBER.match(text) else text


def _of_stretch(
    stretch: LineStretch, before: _Text, after: _Text, counts: Counter[str]
) -> Iterator[ProgramChange]:
    """Changes of one stretch; lines that only look different are counted."""
    same, first, last, new_first, new_last = stretch
    if same:
        for step in range(last - first):
            yield from _of_pair(before, first + step, after, new_first + step, counts)
        return
    found = pairs(before.keys[first:last], after.keys[new_first:new_last])
    gone, come = [*range(first, last)], [*range(new_first, new_last)]
    changes: list[ProgramChange] = []
    if found is not None:
        gone = [first + i for i, j in found if i is not None and j is None]
        come = [new_first + j for i, j in found if i is None and j is not None]
        for i, j in found:
            if i is not None and j is not None:
                changes += _of_pair(before, first + i, after, new_first + j, counts)
    changes += [_counted("lines_removed", run, before) for run in _runs(gone)]
    changes += [_counted("lines_added", run, after) for run in _runs(come)]
    yield from sorted(changes, key=lambda change: change.new_line or change.old_line or 0)


def _of_pair(
    before: _Text, i: int, after: _Text, j: int, counts: Counter[str]
) -> Iterator[ProgramChange]:
    """Changes of one line, or a count where it only looks different."""
    old, new = before.raws[i], after.raws[j]
    if old == new:
        return
    if before.keys[i] == after.keys[j] and not _MARKS.search(old + new):
        numbers = [_NUMBER.match(raw.translate(_UPPER, b" \t")) for raw in (old, new)]
        one, other = (found.group() if found else b"" for found in numbers)
        counts["layout" if one == other else "renumbered"] += 1
        return
    counts["detailed"] += 1
    if counts["detailed"] > 2 * CHANGE_LIMIT:  # only counted from here on
        changes = [WordChange("line", "", "", "")]
    else:
        changes = line_changes(old, new)
    for change in changes:
        if change.kind in {"renumbered", "layout"}:
            counts[change.kind] += 1
        else:
            yield _placed(change, before.numbers[i], after.numbers[j])


def _runs(indices: list[int]) -> Iterator[list[int]]:
    """Indices as runs without gaps."""
    start = 0
    for at in range(1, len(indices) + 1):
        if at == len(indices) or indices[at] != indices[at - 1] + 1:
            yield indices[start:at]
            start = at


def _placed(change: WordChange, old_line: int, new_line: int) -> ProgramChange:
    """A change of words with its lines."""
    where = f"line {new_line}" if old_line == new_line else f"line {new_line} (was {old_line})"
    name = f"{change.name} " if change.name else ""
    text = f"{where}: {name}{change.old or 'none'} -> {change.new or 'none'}"
    return ProgramChange(change.kind, old_line, new_line, change.old, change.new, text)


def _counted(kind: str, run: list[int], side: _Text) -> ProgramChange:
    """Lines that came or went, with the text of the first."""
    first, number = decoded(side.raws[run[0]]), side.numbers[run[0]]
    gone = kind == "lines_removed"
    where = f"{'old ' if gone else ''}line {number}"
    where += f" to {side.numbers[run[-1]]}" if len(run) > 1 else ""
    lines = f"{len(run)} {'line' if len(run) == 1 else 'lines'} {'removed' if gone else 'added'}"
    text = f"{lines}, {where}: {first}"
    if gone:
        return ProgramChange(kind, number, None, first, "", text)
    return ProgramChange(kind, None, number, "", first, text)
