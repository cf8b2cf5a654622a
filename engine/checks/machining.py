"""Rules on a part program beside its record and cell: units, tools, offsets, travel, reading.

The text is read as the cell cuts. Nothing is said of what cannot be had: no axis
letter, no offset, no unit is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from engine.book import programs
from engine.book.programs import RecordProgram
from engine.checks.rule import Say, Says, rule
from engine.checks.view import RecordView
from engine.programs import ProgramFacts
from engine.repo.work_tree import read_file
from engine.views.programs import Extent
from schemas.address import show
from schemas.cell import Axis
from schemas.errors import UsageError
from schemas.factors import MM_PER_UNIT
from schemas.units import to_mm

FILE = "program.file"
MOST_SAID = 4
_OWN_RULES = ("percent", "no_end")  # program-text and program-end tell of these


def _facts(view: RecordView) -> ProgramFacts | None:
    """What the program says; None where there is none to read, or no cell to read it for."""
    program = view.program
    if program is None or program.state != "here" or view.cell is None:
        return None
    try:
        data = read_file(view.session.folder, program.path)
    except (UsageError, OSError):
        return None
    return None if data is None else programs.facts_of(data, view.cell)


def since_proved(view: RecordView) -> str:
    """What changed in the program since it was proved out, in a few words; empty if unknown."""
    try:
        changes = RecordProgram(view.held).changes()
    except (UsageError, OSError):
        return ""
    if not changes:
        return ""
    words = "; ".join(change.text for change in changes[:MOST_SAID])
    left = len(changes) - MOST_SAID
    return f"{words}; and {left} more" if left > 0 else words


@rule("program-units", "warning", "Say G20 or G21 in the program, and enter lengths in its unit.")
def program_units(view: RecordView) -> Says:
    """The part program's unit is not that of the record, or is not said."""
    facts = _facts(view)
    if facts is None or not facts.extents:
        return
    units = view.model.record.units
    path = view.model.program.file
    if facts.unit is None:
        yield Say(FILE, f"{path} says neither G20 nor G21: what the control has set decides")
    elif facts.unit != units:
        yield Say(FILE, f"{path} is in {facts.unit}, the record in {units}")


@rule(
    "tool-unlisted",
    "warning",
    "`witnessmark set {record} tools.T04.what=WORDS` lists a tool, T04 by its own number.",
)
def tool_unlisted(view: RecordView) -> Says:
    """The part program uses a tool that the record does not list."""
    facts = _facts(view)
    listed = {_tool_number(name) for name in view.model.tools}
    missing = [n for n in facts.tool_numbers if n not in listed] if facts else []
    if missing:
        yield Say("tools", f"{view.model.program.file} uses {_tools(missing)}, which is not listed")


@rule(
    "tool-unused", "note", "Take it out of the record, or see whether the program is the right one."
)
def tool_unused(view: RecordView) -> Says:
    """The record lists a tool that the part program does not use."""
    facts = _facts(view)
    if facts is None or facts.calls.count or not facts.tools.complete:
        return
    used = set(facts.tool_numbers)
    for name in view.model.tools:
        number = _tool_number(name)
        if number is not None and number not in used:
            yield Say(f"tools.{name}", f"{view.model.program.file} never uses it")


def _tool_number(name: str) -> int | None:
    found = re.fullmatch(r"T?0*(\d+)", name.upper())
    return int(found[1]) if found else None


def _tools(numbers: list[int]) -> str:
    return ", ".join(f"T{number:02d}" for number in numbers)


@rule(
    "offset-unlisted",
    "warning",
    "`witnessmark set {record} offsets.G54.z=VALUE` notes an offset as it stands in the control.",
)
def offset_unlisted(view: RecordView) -> Says:
    """The part program uses a work offset that the record does not note."""
    facts = _facts(view)
    listed = {_bare(name) for name in view.model.offsets}
    codes = [use.code for use in facts.work_offsets] if facts else []
    missing = [code for code in codes if _bare(code) not in listed]
    if missing:
        yield Say("offsets", f"{view.model.program.file} uses {', '.join(missing)}, not noted here")


def _bare(code: str) -> str:
    """G54.1 P4 and a key like G54_1_P4 are one thing."""
    return re.sub(r"[^A-Z0-9]", "", code.upper())


@rule("program-travel", "error", "Look at the program's move; the cell's travel may be wrong, too.")
def program_travel(view: RecordView) -> Says:
    """The part program moves an axis of the machine beyond its travel."""
    facts = _facts(view)
    if facts is None or view.cell is None:
        return
    for name, axis in view.cell.axes.items():
        if axis.of != "machine" or axis.letter is None:
            continue
        for extent, shift in _moves(view, facts, axis.letter):
            said = _beyond(name, axis, extent, shift)
            if said:
                yield Say(FILE, f"{view.model.program.file} {said}")


def _moves(
    view: RecordView, facts: ProgramFacts, letter: str
) -> Iterator[tuple[Extent, Decimal | None]]:
    """Moves along an axis in the machine's own coordinates, with what is to be added to them.

    Moves in a work offset count along X and Y of a mill, where one offset is used and
    noted: elsewhere tools have a share in them that no record knows.
    """
    if letter in facts.machine_extents:
        yield facts.machine_extents[letter], Decimal(0)
    codes = [use.code for use in facts.work_offsets]
    milling = view.cell is not None and view.cell.cell.cuts == "milling"
    if not milling or letter not in ("X", "Y") or len(codes) != 1 or facts.offset_writes.count:
        return
    noted = next((o for n, o in view.model.offsets.items() if _bare(n) == _bare(codes[0])), {})
    shift = noted.get(letter.lower(), noted.get(letter))
    if shift is not None and letter in facts.extents:
        yield facts.extents[letter], to_mm(shift, view.model.record.units)


def _beyond(name: str, axis: Axis, extent: Extent, shift: Decimal | None) -> str:
    """What is beyond travel in words; empty where nothing is, or where it cannot be told."""
    if axis.kind == "rotary":
        low, high, scale, shift = extent.low, extent.high, 1.0, Decimal(0)
    elif extent.low_mm is None or extent.high_mm is None:
        return ""
    else:
        low, high = extent.low_mm, extent.high_mm
        scale = MM_PER_UNIT[axis.unit]
    ends = ((low, extent.low_line, axis.least, -1), (high, extent.high_line, axis.most, 1))
    for value, line, end, way in ends:
        there = (value + float(shift or 0)) / scale
        if end is not None and (there - float(end)) * way > 1e-6:
            return (
                f"moves {name} to {there:.3f} {axis.unit} (line {line}); "
                f"its travel ends at {show(end)}"
            )
    return ""


@rule("program-faults", "warning", "`witnessmark program {record}` lists them all.")
def program_faults(view: RecordView) -> Says:
    """The part program has text that a control does not read as it was meant."""
    facts = _facts(view)
    found = [p for p in facts.problems if p.kind not in _OWN_RULES] if facts else []
    if facts and found:
        count = facts.problems.count - (len(facts.problems.items) - len(found))
        more = f", and {count - 1} more" if count > 1 else ""
        yield Say(FILE, f"{view.model.program.file}, line {found[0].line}: {found[0].reason}{more}")
