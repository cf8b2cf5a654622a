"""Part programs as text: what is read here is never changed, carried out or trusted.

The reader says what a program's text states, with the line it stands on, and
says so where it cannot follow: a fact that was not read is None, and figures
that may fall short come with a note. No bytes make it raise, and its memory
does not grow with the text. It is not a simulation and no proof that a program
is safe to run.

    facts = read_program("programs/retainer_b_side.nc", end_codes=["M99"])
    facts.ending, facts.tool_numbers, facts.extents["Z"].low_mm
    for change in compare_programs(old, new):
        change.text

Units: lengths in the program's unit and in mm, times in seconds, typed numbers
as Decimals. Source: NISTIR 6556 (Kramer, Proctor, Messina, The NIST RS274NGC
Interpreter, Version 3, 2000); what is common practice is marked where it stands.
"""

from engine.views.programs import (
    AfterEnd,
    Bounded,
    Call,
    CodeUse,
    EndWord,
    Extent,
    Feed,
    LineProblem,
    Note,
    OffsetUse,
    ProgramChange,
    ProgramFacts,
    ProgramStart,
    ProgramTimes,
    Speed,
    ToolUse,
)

from .codes import canonical_code
from .compare import compare_programs, compare_read
from .dialect import MILLING, TURNING, Dialect
from .reader import read_program
from .words import Comment, NotEvaluated, ProgramLine, Word, read_line

__all__ = [
    "MILLING",
    "TURNING",
    "AfterEnd",
    "Bounded",
    "Call",
    "CodeUse",
    "Comment",
    "Dialect",
    "EndWord",
    "Extent",
    "Feed",
    "LineProblem",
    "NotEvaluated",
    "Note",
    "OffsetUse",
    "ProgramChange",
    "ProgramFacts",
    "ProgramLine",
    "ProgramStart",
    "ProgramTimes",
    "Speed",
    "ToolUse",
    "Word",
    "canonical_code",
    "compare_programs",
    "compare_read",
    "read_line",
    "read_program",
]
