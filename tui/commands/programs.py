"""The command that says what a part program says: program."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from tui.commands import plain, words
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json, put_table

if TYPE_CHECKING:
    from engine.programs import CodeUse, EndWord, ProgramChange, ProgramFacts

MOST_CHANGES = 20


@click.command()
@click.argument("record")
@shared_options
def program(wanted: CommandOptions, record: str) -> int:
    """Say what a record's part program says: ends, units, offsets, tools, speeds, extents, time.

    And, where its bytes are not the proved-out ones, what changed since.
    """
    book = wanted.open()
    facts, changes = book.program(record), book.program_changes(record)
    if wanted.form == "json":
        put_json({"record": record, **_plain(facts, changes)})
    elif wanted.form == "csv":
        put_csv([{"record": record, **_plain(facts, changes)}])
    else:
        rows = [["what", "says"], *_rows(facts)]
        put_table(rows)
        _put_changes(changes)
    return EXIT_DONE


def _plain(facts: ProgramFacts, changes: list[ProgramChange] | None) -> plain.Plain:
    """A program as JSON; numbers typed in it are strings, computed ones numbers."""
    return {
        "sha256": facts.sha256,
        "size": facts.size,
        "lines": facts.lines,
        "ending": _end(facts.ending),
        "ending_when_deleting": _end(facts.ending_when_deleting),
        "unit": facts.unit,
        "offsets": [use.code for use in facts.work_offsets],
        "tools": list(facts.tool_numbers),
        "spindle_top": plain.value(facts.spindle_top),
        "codes": [_code(use) for use in facts.codes("loader")],
        "stops": [_code(use) for use in facts.stops],
        "extents": {
            axis: {"low": one.low, "high": one.high, "low_mm": one.low_mm, "high_mm": one.high_mm}
            for axis, one in facts.extents.items()
        },
        "machine_extents": {
            axis: {"low": one.low, "high": one.high, "low_mm": one.low_mm, "high_mm": one.high_mm}
            for axis, one in facts.machine_extents.items()
        },
        "cutting_seconds": facts.times.cutting,
        "dwell_seconds": facts.times.dwell,
        "problems": [
            {"line": item.line, "kind": item.kind, "reason": item.reason} for item in facts.problems
        ],
        "notes": [
            {"line": item.line, "kind": item.kind, "count": item.count, "reason": item.reason}
            for item in facts.notes
        ],
        "since_proved": None if changes is None else [change.text for change in changes],
    }


def _end(end: EndWord | None) -> plain.Plain | None:
    return {"code": end.code, "line": end.line} if end else None


def _code(use: CodeUse) -> plain.Plain:
    return {"code": use.code, "line": use.line}


def _rows(facts: ProgramFacts) -> words.Rows:
    end, when_deleting = facts.ending, facts.ending_when_deleting
    rows = [
        ["text", f"{facts.lines} lines, {facts.size} bytes, sha256 {facts.sha256[:12]}…"],
        ["end", f"{end.code} in line {end.line}" if end else "none"],
        ["unit", facts.unit or "not said"],
        ["offsets", ", ".join(use.code for use in facts.work_offsets) or "none"],
        ["tools", ", ".join(f"T{number}" for number in facts.tool_numbers) or "none"],
        [
            "top speed",
            f"{facts.spindle_top} 1/min" if facts.spindle_top is not None else "no limit",
        ],
    ]
    if when_deleting != end:
        words_for = (
            f"{when_deleting.code} in line {when_deleting.line}" if when_deleting else "none"
        )
        rows.insert(2, ["end, block delete on", words_for])
    called = [f"{use.code} in line {use.line}" for use in facts.codes("loader")]
    if called:
        rows.append(["cell's codes", ", ".join(called)])
    for name, extents in (("", facts.extents), (" of the machine", facts.machine_extents)):
        for axis, one in extents.items():
            unit = "deg" if axis in "ABC" else facts.unit or ""
            rows.append([f"{axis}{name}", f"{one.low:g} to {one.high:g} {unit}".rstrip()])
    minutes, seconds = divmod(round(facts.times.cutting), 60)
    rows.append(["time at feed", f"{minutes}:{seconds:02d} min as programmed, no rapids"])
    rows.append(["dwell", f"{facts.times.dwell:g} s"])
    rows += [[f"line {item.line}", item.reason] for item in facts.problems]
    rows += [["note", f"{item.reason} (line {item.line})"] for item in facts.notes]
    return rows


def _put_changes(changes: list[ProgramChange] | None) -> None:
    """What changed since it was proved out."""
    if changes is None:
        put("the text that was proved out is not in the book's history")
    elif changes:
        put("since it was proved out:")
        for change in changes[:MOST_CHANGES]:
            put(f"  {change.text}")
        if len(changes) > MOST_CHANGES:
            put(f"  and {len(changes) - MOST_CHANGES} more; JSON lists them")
    else:
        put("as it was proved out")
