"""One program text as programs and subprograms: the first that nothing calls is the main one.

What stands between an unconditional end and the next O number is never carried
out and never a fact, except that its end codes are listed. With a jump or a
loop before it, an end closes nothing, since what follows may be reached.

Sources: NISTIR 6556, 3.1 (the end of a program) and 2.2.2 (block delete, off
unless said otherwise). O numbers, M98, M99: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.views.programs import Call, CodeUse, EndWord

from .block import Block, Blocks
from .dialect import Dialect
from .interpret import Interpreter, special_codes
from .ledger import Ledger
from .modal import Modal
from .path import Path
from .words import ProgramLine

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
        self.blocks = Blocks(ends, codes, special_codes(dialect))
        simple = {"G0", "G1", "G2", "G3"}  # whether the short way may be taken at all
        self.simple = not any(code in simple or code[0] not in "GM" for code in codes)
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

    def took(self, blank: int, others: int, code_words: int) -> None:
        """Count lines that went the short way, and their G words."""
        self.lines += blank + others
        self.code_words += code_words
        self.section.used = self.section.used or others > 0

    def take(self, block: Block, number: int) -> None:
        """Take one line that is not blank."""
        self.lines += 1
        if block.line is not None and not self._more_than_words(block.line, number):
            return
        section = self.section
        if section.closed:
            self._after(block, number)
            return
        section.used = True
        self.code_words += block.codes.counted
        for code, groups in block.uses:
            for group in groups:
                self.ledger.uses.add(CodeUse, number, code, group, block.block_delete)
        call = self.interpreter.apply(block, number, section.path)
        if call is not None:
            section.add_call(call)
        for code in block.codes.ends:
            self._end(code, block, number)

    def _more_than_words(self, line: ProgramLine, number: int) -> bool:
        """What is not said by words; whether there are words to look at."""
        if line.block_delete:
            self.ledger.block_delete_lines += 1
        if line.o is not None:
            self._start(number, line.o)
        if self.section.closed:
            return True
        for problem in line.problems:
            self.ledger.problem(number, problem.kind, problem.reason)
        if line.blank:
            return False
        if line.block_delete:
            self.ledger.notes.add("block_delete", number)
        for item in line.not_evaluated:
            self.ledger.notes.add("flow" if item.kind == "flow" else "expression", number)
            self.section.flow = self.section.flow or item.kind == "flow"
        return True

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

    def _after(self, block: Block, line: int) -> None:
        """Text after the end: counted, unless it is nothing but end codes or comments."""
        for code in block.codes.ends:
            self.ledger.end(self._end_word(code, block, line))
        if block.only_ends or (block.line is not None and block.line.blank):
            return
        section = self.section
        section.after_line = section.after_line or line
        section.after_lines += 1

    def _end_word(self, code: str, block: Block, line: int) -> EndWord:
        jump = block.jump() if code == "M99" else None
        conditional = block.line is not None and block.line.conditional
        return EndWord(line, code, self.section.number, block.block_delete, conditional, jump)

    def _end(self, code: str, block: Block, line: int) -> None:
        """An end code that is reached unless a jump leads around it."""
        end = self._end_word(code, block, line)
        section = self.section
        self.ledger.end(end)
        if end.conditional:
            return
        section.first = section.first or end
        if not end.block_delete:
            section.plain = section.plain or end
            section.closed = not section.flow
