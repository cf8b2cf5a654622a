"""A line made ready to be carried out: what it says, whatever its number in the text is.

Nothing here depends on what came before, so what was made of a text is kept by the
text: a line that comes again costs one look-up. A line of nothing but plain words is
taken apart at once, without a Decimal for each; any other is read by `words.read_line`.
Tests give each line both ways.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set
from decimal import Decimal

from engine.views.programs import LineProblem

from .codes import clashing_groups, spell
from .words import LINE_LIMIT, M_LIMIT, ProgramLine, read_line

KEPT = 4096  # lines, and as many codes
_NUMBER = r"[-+]?(?:[0-9]{1,8}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})"
_plain = re.compile(rf"(/?)(?:N[0-9]{{1,5}})?((?:[A-MP-Z]{_NUMBER})+)").fullmatch
_words = re.compile("([A-Z])([-+.0-9]+)").findall

Typed = tuple[str, str]  # letter and number of one word, as typed


class Block:
    """What one line says; what it does not say stays as it stands here.

    codes, m_codes: in one spelling, in their order, as often as typed; counted: how many
    G and M words, evaluated or not; special: the first code that uses up the axis words.
    numbers: by letter, G and M left out, None where it is not evaluated; texts: the same as
    typed. unread: kinds of what is not evaluated. ends: those of `m_codes` that end a
    program, alone if nothing else stands there; jump: the P beside them.
    uses: codes of the caller's, each with its groups. clashes: modal groups given twice.
    """

    codes: Sequence[str] = ()
    m_codes: Sequence[str] = ()
    counted: int = 0
    special: str | None = None
    numbers: Mapping[str, float | None] = {}
    texts: Mapping[str, str] = {}
    unread: Sequence[str] = ()
    ends: Sequence[str] = ()
    alone: bool = False
    jump: Decimal | None = None
    calls: bool = False
    uses: Sequence[tuple[str, Sequence[str]]] = ()
    clashes: Sequence[str] = ()
    problems: Sequence[LineProblem] = ()
    o: int | None = None
    blank: bool = False
    block_delete: bool = False
    percent: bool = False
    conditional: bool = False


class Blocks:
    """Makes blocks, and keeps them by their texts.

    `ends`: codes that end a program; `groups`: codes of the caller's, with their groups;
    `special`: codes that use up the axis words of their line.
    """

    def __init__(
        self, ends: Set[str], groups: Mapping[str, Sequence[str]], special: Set[str]
    ) -> None:
        self._ends = ends
        self._groups = groups
        self._special = special
        self._kept: dict[str, Block] = {}
        self._codes: dict[Typed, str] = {}

    def of(self, text: str, raw: bytes) -> Block:
        """The block of a line; `text` is `raw` in upper case without blanks, as Latin-1."""
        found = _plain(without_comment(text))
        key = text if found is None else found[1] + found[2]  # the N number changes nothing
        block = self._kept.get(key)
        if block is not None:
            return block
        if found is not None:
            block = self._of_words(_words(found[2]), bool(found[1]))
        if block is None:
            block = self._of_line(read_line(decoded(raw)))
        if text.isascii() and len(raw) <= LINE_LIMIT:
            if len(self._kept) >= KEPT:
                self._kept.clear()
            self._kept[key] = block
        return block

    def _of_words(self, words: Sequence[Typed], block_delete: bool) -> Block | None:
        """The block of plain words; None where one is repeated or no control takes it."""
        codes: list[str] = []
        m_codes: list[str] = []
        numbers: dict[str, float | None] = {}
        texts: dict[str, str] = {}
        for word in words:
            letter, text = word
            if letter in "GM":
                if text.startswith("-"):
                    return None
                (codes if letter == "G" else m_codes).append(self._code(word))
            else:
                numbers[letter] = float(text)
                texts[letter] = text
        if len(numbers) + len(codes) + len(m_codes) < len(words) or len(m_codes) > M_LIMIT:
            return None
        block = Block()
        block.numbers, block.texts = numbers, texts
        if block_delete:
            block.block_delete = True
        if codes or m_codes:
            block.counted = len(codes) + len(m_codes)
            self._take_codes(block, codes, m_codes)
        if self._groups:
            self._take_uses(block, [self._code(word) for word in words])
        if block.ends:
            block.alone = len(block.ends) == len(words)
            if "M99" in block.ends and "P" in texts:
                block.jump = Decimal(texts["P"])
        return block

    def _of_line(self, line: ProgramLine) -> Block:
        """The block of any line."""
        block, words = Block(), line.words
        block.numbers = {
            word.letter: None if word.value is None else float(word.value)
            for word in words
            if word.letter not in "GM"
        }
        block.texts = {word.letter: word.text for word in words if word.letter not in "GM"}
        block.unread = [item.kind for item in line.not_evaluated]
        block.counted = sum(word.letter in "GM" for word in words)
        read = [word for word in words if word.value is not None]
        self._take_codes(
            block,
            [word.code for word in read if word.letter == "G"],
            [word.code for word in read if word.letter == "M"],
        )
        self._take_uses(block, [word.code for word in words])
        block.problems, block.blank, block.o = line.problems, line.blank, line.o
        block.block_delete, block.conditional = line.block_delete, line.conditional
        block.percent = line.percent
        if block.ends:
            block.alone = len(block.ends) == len(words) and not line.problems
            jumps = [word.value for word in words if word.letter == "P"]
            block.jump = jumps[0] if "M99" in block.ends and jumps else None
        return block

    def _take_codes(self, block: Block, codes: Sequence[str], m_codes: Sequence[str]) -> None:
        block.codes, block.m_codes = codes, m_codes
        if len(codes) + len(m_codes) > 1:
            block.clashes = clashing_groups([*codes, *m_codes])
        block.special = next((code for code in codes if code in self._special), None)
        block.ends = [code for code in m_codes if code in self._ends]
        block.calls = "G65" in codes or "M98" in m_codes

    def _take_uses(self, block: Block, codes: Sequence[str]) -> None:
        groups = self._groups
        block.uses = [(code, groups[code]) for code in codes if code in groups]

    def _code(self, word: Typed) -> str:
        """One spelling of a word, kept by what was typed."""
        code = self._codes.get(word)
        if code is None:
            code = spell(word[0], Decimal(word[1]))
            if len(self._codes) >= KEPT:
                self._codes.clear()
            self._codes[word] = code
        return code


def without_comment(text: str) -> str:
    """The line without one plain comment at its end; as it was if there is more to it."""
    start = text.find("(")
    if start < 0:
        start = text.find(";")
        return text[:start] if start >= 0 and ")" not in text[:start] else text
    alone = text.find(";", 0, start) < 0 and text.find(")") == len(text) - 1
    return text[:start] if alone and text.find("(", start + 1) < 0 else text


def decoded(raw: bytes) -> str:
    """UTF-8 where it is that, else Latin-1; only comments can tell the difference."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")
