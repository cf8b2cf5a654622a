"""One program text as programs and subprograms: the first that nothing calls is the main one.

What stands between an unconditional end and the next O number is never carried
out and never a fact, except that its end codes are listed. With a jump or a
loop before it, an end closes nothing, since what follows may be reached.

Sources: NISTIR 6556, 3.1 (the end of a program) and 2.2.2 (block delete, off
unless said otherwise). O numbers, M98, M99: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from engine.views.programs import Call, CodeUse, EndWord

from .dialect import Dialect
from .interpret import Interpreter
from .ledger import Ledger
from .modal import Modal
from .path import Path
from .words import ProgramLine, Word

STANDARD_ENDS = frozenset({"M2", "M30"})  # NISTIR 6556, 3.6.1
ENDS = STANDARD_ENDS | {"M99"}
SECTION_LIMIT = 200


class ProgramSection:
    """From one O number to the next. `first`, `plain`: its end with block delete off, on."""

    def __init__(self, path: Path, line: int, number: int | None) -> None:
        self.path = path
        self.line = line
        self.number = number
        self.used = number is not None
        self.first: EndWord | None = None
        self.plain: EndWord | None = None
        self.closed = False
        self.flow = False
        self.after_line = 0
        self.after_lines = 0
        self.calls: dict[int, float] = {}
        self.call_lines: dict[int, int] = {}  # first line of each call

    def add_call(self, call: Call) -> None:
        """Count a call of a program by number."""
        if call.program is None or call.code != "M98":
            self.path.notes.add("call_macro", call.line)
            return
        number = int(call.program)
        if number in self.calls or len(self.calls) < SECTION_LIMIT:
            self.call_lines.setdefault(number, call.line)
            self.calls[number] = self.calls.get(number, 0.0) + max(float(call.repeats), 0.0)


class ProgramBuilder:
    """Takes lines in order and keeps what they say. `codes`: code -> groups of the caller's."""

    def __init__(
        self, dialect: Dialect, ends: frozenset[str], codes: Mapping[str, tuple[str, ...]]
    ) -> None:
        self.dialect = dialect
        self.ends = ends
        self.codes = codes
        self.ledger = Ledger()
        self.interpreter = Interpreter(dialect, self.ledger)
        path = Path(Modal.start(dialect), dialect, self.ledger.notes)
        self.section = ProgramSection(path, 1, None)
        self.sections = [self.section]
        self.lines = 0  # that are not blank
        self.code_words = 0

    def looks_like_program(self) -> bool:
        """Whether what came so far is program text, not a heading before the first `%`."""
        words = self.code_words > 0
        return words and (self.ledger.ends.count > 0 or self.ledger.problems.count == 0)

    def take(self, line: ProgramLine) -> None:
        """Take one line that is not blank."""
        self.lines += 1
        if line.block_delete:
            self.ledger.block_delete_lines += 1
        if line.o is not None:
            self._start(line.number, line.o)
        section = self.section
        ends = [w for w in line.words if w.letter == "M" and w.code in self.ends]
        if section.closed:
            self._after(line, ends)
            return
        for problem in line.problems:
            self.ledger.problems.add(problem)
        if line.blank:
            return
        section.used = True
        section.flow = section.flow or any(i.kind == "flow" for i in line.not_evaluated)
        if line.block_delete:
            self.ledger.notes.add("block_delete", line.number)
        self.code_words += sum(word.letter in "GM" for word in line.words)
        self._uses(line)
        call = self.interpreter.apply(line, section.path)
        if call is not None:
            section.add_call(call)
        for word in ends:
            self._end(line, word)

    def _start(self, line: int, number: int) -> None:
        """An O number: a new program, unless nothing came before it."""
        if not self.section.used:
            self.section.number, self.section.line, self.section.used = number, line, True
            return
        if len(self.sections) >= SECTION_LIMIT:
            self.ledger.problem(line, "programs", f"more than {SECTION_LIMIT} O numbers")
            self.section.closed = False
            return
        modal = Modal.start(self.dialect)
        modal.unit, modal.scale = self.section.path.modal.unit, self.section.path.modal.scale
        modal = self.interpreter.entry.get(number, modal).snapshot()
        self.section = ProgramSection(Path(modal, self.dialect, self.ledger.notes), line, number)
        self.sections.append(self.section)

    def _after(self, line: ProgramLine, ends: list[Word]) -> None:
        """Text after the end: counted, unless it is nothing but end codes or comments."""
        for word in ends:
            self.ledger.end(self._end_word(line, word))
        if line.blank or (len(ends) == len(line.words) and not line.problems and ends):
            return
        section = self.section
        section.after_line = section.after_line or line.number
        section.after_lines += 1

    def _uses(self, line: ProgramLine) -> None:
        for word in line.words if self.codes else ():
            for group in self.codes.get(word.code, ()):
                use = CodeUse(line.number, word.code, group, line.block_delete)
                self.ledger.uses.add(use)

    def _end_word(self, line: ProgramLine, word: Word) -> EndWord:
        jumps = [w.value for w in line.words if w.letter == "P"] if word.code == "M99" else []
        jump: Decimal | None = jumps[0] if jumps else None
        return EndWord(
            line.number, word.code, self.section.number, line.block_delete, line.conditional, jump
        )

    def _end(self, line: ProgramLine, word: Word) -> None:
        """An end code that is reached unless a jump leads around it."""
        end = self._end_word(line, word)
        section = self.section
        self.ledger.end(end)
        if end.conditional:
            return
        section.first = section.first or end
        if not end.block_delete:
            section.plain = section.plain or end
            section.closed = not section.flow
