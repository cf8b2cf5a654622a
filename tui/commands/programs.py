"""The command that says what a part program says: program."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from engine.views.serialise import program as as_data
from engine.views.wording import count
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json, put_table
from tui.commands.tables import Rows

if TYPE_CHECKING:
    from engine.views import ProgramChange, ProgramFacts

MOST_CHANGES = 20


@click.command()
@click.argument("record")
@shared_options
def program(wanted: CommandOptions, record: str) -> int:
    """Say what a record's part program says: ends, units, offsets, tools, speeds, extents, time.

    And, where its bytes are not the proved-out ones, what changed since.
    """
    book = wanted.open()
    program = book.document(record).program
    facts, changes = program.facts(), program.changes()
    if wanted.form == "json":
        put_json({"record": record, **as_data(facts, changes)})
    elif wanted.form == "csv":
        put_csv([{"record": record, **as_data(facts, changes)}])
    else:
        rows = [["what", "says"], *_rows(facts)]
        put_table(rows)
        _put_changes(changes)
    return EXIT_DONE


def _rows(facts: ProgramFacts) -> Rows:
    end, when_deleting = facts.ending, facts.ending_when_deleting
    size = f"{count(facts.lines, 'line')}, {count(facts.size, 'byte')}"
    rows = [
        ["text", f"{size}, sha256 {facts.sha256[:12]}…"],
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
        said = f"{when_deleting.code} in line {when_deleting.line}" if when_deleting else "none"
        rows.insert(2, ["end, block delete on", said])
    called = [f"{use.code} in line {use.line}" for use in facts.codes("loader")]
    if called:
        rows.append(["cell's codes", ", ".join(called)])
    rows += _extent_rows(facts)
    minutes, seconds = divmod(round(facts.times.cutting), 60)
    rows.append(["time at feed", f"{minutes}:{seconds:02d} min as programmed, no rapids"])
    rows.append(["dwell", f"{facts.times.dwell:g} s"])
    rows += [[f"line {item.line}", item.reason] for item in facts.problems]
    rows += [["note", f"{item.reason} (line {item.line})"] for item in facts.notes]
    return rows


def _extent_rows(facts: ProgramFacts) -> Iterator[list[str]]:
    """How far each axis goes, in the program's own zero and in the machine's."""
    for name, extents in (("", facts.extents), (" of the machine", facts.machine_extents)):
        for axis, one in extents.items():
            unit = "deg" if axis in "ABC" else facts.unit or ""
            yield [f"{axis}{name}", f"{one.low:g} to {one.high:g} {unit}".rstrip()]


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
