"""Rules on a record's part program: is it there, is it the proved one, does its end suit."""

from __future__ import annotations

from collections.abc import Iterator

from engine.checks.linked import attended_ends, program_facts, tended_ends
from engine.checks.machining import since_proved
from engine.checks.rule import Say, Says, rule
from engine.checks.view import RecordView
from engine.programs import EndWord, ProgramFacts
from schemas.cell import Cell

FILE = "program.file"


@rule(
    "no-program",
    "warning",
    "`witnessmark set {record} program.file=PATH` links the part program.",
)
def no_program(view: RecordView) -> Says:
    """A record names no part program."""
    if view.program is None:
        yield Say(FILE, "no part program is named")


@rule("program-missing", "error", "Put the program there, or correct program.file.")
def program_missing(view: RecordView) -> Says:
    """A record's part program is not on disk."""
    program = view.program
    if program and program.state == "missing":
        yield Say(FILE, f"{program.path} is not there", program.hint)


@rule(
    "program-outside",
    "error",
    "Move the program into one of these folders, or have a lead add its folder to book.toml.",
)
def program_outside(view: RecordView) -> Says:
    """A record's part program lies outside the folders that the book allows."""
    program = view.program
    if program and program.state == "outside":
        yield Say(FILE, program.why, program.hint)


@rule("program-unreadable", "error", "Link to an ordinary file.")
def program_unreadable(view: RecordView) -> Says:
    """A record's part program is a link, no ordinary file, or too large."""
    program = view.program
    if program and program.state == "unreadable":
        yield Say(FILE, program.why, program.hint)


@rule(
    "program-changed",
    "error",
    "Prove it out anew, then `witnessmark set {record} program.sha256=now` takes the hash of the "
    "file as it is now; or put the proved program back.",
)
def program_changed(view: RecordView) -> Says:
    """The part program on disk is not the one that was proved out."""
    program, proved = view.program, view.model.program.sha256
    if program and program.state == "here" and proved and proved != program.sha256:
        changed = since_proved(view)
        yield Say(
            "program.sha256",
            f"{program.path} is not the program that was proved out: its hash begins with "
            f"{program.sha256[:10]}, the proved one with {proved[:10]}"
            f"{'; changed since: ' if changed else ''}{changed}",
        )


@rule(
    "program-not-proved",
    "note",
    "Once it is proved out, `witnessmark set {record} program.sha256=now` takes its hash.",
)
def program_not_proved(view: RecordView) -> Says:
    """No part program was proved out with this record yet."""
    program = view.program
    if program and program.state == "here" and not view.model.program.sha256:
        yield Say("program.sha256", f"{program.path} was never proved out with this record")


@rule(
    "program-end",
    "error",
    "Correct the end of the program, or say how this record ends in program.ending.",
)
def program_end(view: RecordView) -> Says:
    """The part program does not end as the cell wants it for this way of running."""
    program, cell = view.program, view.cell
    if program is None or program.state != "here" or cell is None:
        return
    tended = view.model.program.ending != "attended"
    wanted = tended_ends(cell) if tended else attended_ends(cell)
    facts = program_facts(view.session.folder, program, cell) if wanted else None
    for message in _wrong_ends(facts, wanted, cell, tended=tended) if facts else ():
        yield Say(FILE, f"{program.path} {message}")


def _wrong_ends(
    facts: ProgramFacts, wanted: list[str], cell: Cell, *, tended: bool
) -> Iterator[str]:
    """What is wrong with a program's end, with block delete off, and on where that differs."""
    name, codes = cell.cell.name, " or ".join(wanted)
    first, deleting = facts.ending, facts.ending_when_deleting
    if first is None:
        yield f"has no end; {name} wants {codes}"
    elif first.code not in wanted:
        yield f"ends with {_place(first)}, {_meaning(first, cell, tended=tended)} ({codes} wanted)"
    elif deleting is None:
        yield f"has no end when block delete is on; {name} wants {codes}"
    elif deleting.code not in wanted:
        meaning = _meaning(deleting, cell, tended=tended)
        yield f"ends with {_place(deleting)} when block delete is on, {meaning} ({codes} wanted)"


def _place(end: EndWord) -> str:
    return f"{end.code} in line {end.line}"


def _meaning(end: EndWord, cell: Cell, *, tended: bool) -> str:
    name = cell.cell.name
    if tended and end.code in attended_ends(cell):
        return f"after which {name} waits for a person; the record runs tended"
    if not tended and end.code in tended_ends(cell):
        return f"after which the loader of {name} goes on; the record runs attended"
    return f"which {name} does not know as an end"


@rule("program-text", "warning", "Send the program to the book again and compare it.")
def program_text(view: RecordView) -> Says:
    """The part program looks cut off: an opening `%` without its closing one."""
    program, cell = view.program, view.cell
    if program is None or program.state != "here" or cell is None:
        return
    facts = program_facts(view.session.folder, program, cell)
    if facts and facts.percent_opens and not facts.percent_closes:
        yield Say(
            FILE,
            f"{program.path} looks cut off: the `%` in line {facts.open_line} is never closed",
        )


@rule(
    "program-spindle",
    "warning",
    "Correct program.spindle_top: the force of chuck jaws is worked out with it.",
)
def program_spindle(view: RecordView) -> Says:
    """The part program turns the spindle faster than the record says."""
    program, cell, known = view.program, view.cell, view.model.program.spindle_top
    if program is None or program.state != "here" or cell is None or known is None:
        return
    facts = program_facts(view.session.folder, program, cell)
    if facts and facts.spindle_top is not None and facts.spindle_top > known:
        yield Say(
            "program.spindle_top",
            f"{program.path} turns the spindle at up to {facts.spindle_top} 1/min, "
            f"the record says {known}",
        )
