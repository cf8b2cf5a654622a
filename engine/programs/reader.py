"""A whole program text as facts: memory does not grow with the text, and no bytes make it raise.

Facts are those of the text between the two `%` (NISTIR 6556, 3.1: the
pair is optional with an M2 or M30, required without; an opening `%` without its
closing one is an error; what follows the second is ignored). An end code that
the caller names stands in for M2 and M30 there: common practice, no source.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator

from engine.views.programs import ProgramFacts

from .block import Block
from .codes import canonical_code
from .dialect import MILLING, Dialect
from .program import ENDS, STANDARD_ENDS, ProgramBuilder
from .quick import run
from .stream import TextSource, chunks_of, pieces_of
from .summary import after_end, extents, main_section, starts, times
from .words import LINE_LIMIT

_UPPER = bytes.maketrans(bytes(range(97, 123)), bytes(range(65, 91)))
_BLANKS = b" \t"
_COUNTS = re.compile(rb"\nN[0-9]{1,5}(?=[A-MP-Z])")  # N10 before a word: it changes nothing
_LONG = "long"  # small letters: no text that is squeezed looks like it
_BOM, _WIDE_BOMS = b"\xef\xbb\xbf", (b"\xff\xfe", b"\xfe\xff")


def read_program(
    source: TextSource,
    *,
    end_codes: Iterable[str] = (),
    door_codes: Iterable[str] = (),
    clamp_codes: Iterable[str] = (),
    loader_codes: Iterable[str] = (),
    dialect: Dialect = MILLING,
) -> ProgramFacts:
    """Read a program from a binary stream, bytes, or a file's name.

    Codes in any spelling ("m 03 0" is "M30"). `end_codes` are looked for besides M2,
    M30 and M99. Raises ValueError for a code that is none, OSError from the source;
    never for the program's text.
    """
    ends = frozenset(map(canonical_code, end_codes))
    groups: dict[str, tuple[str, ...]] = {}
    lists = {"door": door_codes, "clamp": clamp_codes, "loader": loader_codes}
    for group, codes in lists.items():
        for code in dict.fromkeys(map(canonical_code, codes)):
            groups[code] = (*groups.get(code, ()), group)
    reader = _Reader(dialect, ends, groups)
    for lines in pieces_of(reader.counted(chunks_of(source))):
        reader.take(lines)
    return reader.facts()


class _Reader:
    """Where we are between the `%` lines, and the builder that takes what counts."""

    def __init__(
        self, dialect: Dialect, ends: frozenset[str], groups: dict[str, tuple[str, ...]]
    ) -> None:
        self.dialect = dialect
        self.named_ends = ends
        self.groups = groups
        self.builder = self._new_builder()
        self.heading: ProgramBuilder | None = (
            None  # what came before a `%` that may not be the first
        )
        self.lines = 0
        self.size = 0
        self.digest = hashlib.sha256()
        self.open_line: int | None = None
        self.close_line: int | None = None
        self.trailing = 0

    def _new_builder(self) -> ProgramBuilder:
        return ProgramBuilder(self.dialect, ENDS | self.named_ends, self.groups)

    def counted(self, chunks: Iterable[bytes]) -> Iterator[bytes]:
        """The same chunks, their bytes counted and hashed on the way."""
        for chunk in chunks:
            self.size += len(chunk)
            self.digest.update(chunk)
            yield chunk

    def take(self, lines: list[bytes]) -> None:
        """Take the next lines of the text."""
        if not self.lines and lines:
            lines[0] = self._without_mark(lines[0])
        first = self.lines + 1
        self.lines += len(lines)
        numbered = enumerate(_squeezed(lines), first)
        while self.close_line is None:
            left = run(self.builder, numbered)
            if left is None:
                return
            number, text = left
            block = self.builder.blocks.of(text, lines[number - first])
            if block.line is not None and block.line.percent:
                self._percent(block, block.line.blank, number)
            else:
                self.builder.take(block, number)
        self.trailing += sum(1 for _, text in numbered if text)

    def _without_mark(self, raw: bytes) -> bytes:
        """Drop a byte order mark; of 16-bit text the NULs have gone already."""
        if raw.startswith(_WIDE_BOMS):
            self.builder.ledger.problem(1, "encoding", "16-bit text: not plain characters")
            return raw[2:]
        return raw.removeprefix(_BOM)

    def _percent(self, block: Block, alone: bool, line: int) -> None:
        """A `%` opens if nothing or only a heading came before it, else it closes."""
        ledger = self.builder.ledger
        if self.open_line is not None or self.builder.looks_like_program():
            self.close_line = line
            if self.open_line is None:
                ledger.problem(line, "percent", "a closing `%` without an opening one")
            return
        if self.builder.lines:
            self.heading = self.builder
            self.builder = self._new_builder()
            reason = "text before the first `%`: it must be the first line that is not blank"
            self.builder.ledger.problem(line, "percent", reason)
        self.open_line = line
        if not alone:
            self.builder.ledger.problem(line, "percent", "text beside `%` on its line")
            self.builder.take(block, line)

    def _close(self) -> None:
        """The text is over: was a lone `%` the closing one, is one missing, is there an end?"""
        if self.heading is not None and not self.builder.lines and self.close_line is None:
            self.builder, self.heading = self.heading, None
            self.open_line, self.close_line = None, self.open_line
            reason = "a closing `%` without an opening one"
            self.builder.ledger.problem(self.close_line or 0, "percent", reason)
        ledger = self.builder.ledger
        if self.open_line is not None and self.close_line is None:
            ledger.problem(self.open_line, "percent", "the opening `%` is never closed")
        pair = self.open_line is not None and self.close_line is not None
        good = STANDARD_ENDS | self.named_ends
        if not pair and good.isdisjoint(ledger.end_codes):
            codes = ", ".join(sorted(good))
            ledger.problem(
                max(self.lines, 1), "no_end", f"no end: neither a pair of `%` nor {codes}"
            )

    def facts(self) -> ProgramFacts:
        """All that was read, for good."""
        self._close()
        builder = self.builder
        main = main_section(builder)
        ledger = builder.ledger
        unit = builder.interpreter.program_unit
        sections = builder.sections
        spent = times(builder, main)
        return ProgramFacts(
            size=self.size,
            sha256=self.digest.hexdigest(),
            lines=self.lines,
            open_line=self.open_line,
            close_line=self.close_line,
            leader_lines=(self.open_line or 1) - 1,
            trailing_lines=self.trailing,
            programs=starts(builder),
            ends=ledger.ends.freeze(),
            ending=main.first,
            ending_when_deleting=main.plain,
            after_end=after_end(main),
            unit=unit,
            units=ledger.units.freeze(),
            work_offsets=ledger.offsets(),
            offset_writes=ledger.offset_writes.freeze(),
            tools=ledger.tool_listing(self.dialect),
            speeds=ledger.speeds.freeze(),
            speed_clamps=ledger.clamps.freeze(),
            spindle_top=ledger.spindle_top(),
            feeds=ledger.feeds.freeze(),
            stops=ledger.stops.freeze(),
            uses=ledger.uses.freeze(),
            calls=ledger.calls.freeze(),
            returns=ledger.returns.freeze(),
            block_delete_lines=ledger.block_delete_lines,
            extents=extents([section.path.box for section in sections], unit),
            machine_extents=extents([section.path.machine_box for section in sections], unit),
            reference_moves=ledger.reference_moves.freeze(),
            times=spent,
            notes=ledger.notes.freeze(),
            problems=ledger.problems.freeze(),
        )


def _squeezed(lines: list[bytes]) -> list[str]:
    """Lines in upper case without blanks and N numbers, as Latin-1; one too long says only that.

    A number that no word follows stays, and so does what is no number.
    """
    data = b"\n".join([b"", *lines]).translate(_UPPER, _BLANKS)
    texts = _COUNTS.sub(b"\n", data).decode("latin-1").split("\n")
    del texts[0]
    if max(map(len, lines)) > LINE_LIMIT:
        for at, line in enumerate(lines):
            if len(line) > LINE_LIMIT and texts[at]:
                texts[at] = _LONG
    return texts
