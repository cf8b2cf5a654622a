"""A line made ready to be carried out: what it says, whatever its number in the text is.

Nothing here depends on what came before, so what was made of a text is kept by the
text: a line that comes again costs one look-up, and so do codes that stand together
again, whatever numbers are beside them. A line of nothing but plain words is taken apart
at once, without a Decimal for each; any other is read by `words.read_line`. Tests give
each line both ways.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal

from .codes import clashing_groups, spell
from .words import LINE_LIMIT, M_LIMIT, ProgramLine, read_line

KEPT = 2048  # lines, and as many sets of codes
_NUMBER = r"[-+]?(?:[0-9]{1,8}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})"
_plain = re.compile(rf"(?:[A-MP-Z]{_NUMBER})+").fullmatch
_words = re.compile("([A-Z])([-+.0-9]+)").findall

Typed = tuple[str, str]  # letter and number of one word, as typed
Numbers = Mapping[str, float | None]  # by letter, G and M left out; None: not evaluated


@dataclass(frozen=True, slots=True)
class Codes:
    """G and M words that stand on one line, in one spelling, in their order.

    counted: how many, evaluated or not; special: the first code that uses up the axis
    words; ends: those of `m_codes` that end a program; calls: whether one calls another;
    clashes: modal groups of which more than one is given.
    """

    codes: Sequence[str]
    m_codes: Sequence[str]
    counted: int
    special: str | None
    ends: Sequence[str]
    calls: bool
    clashes: Sequence[str]


class Block:
    """What one line says. texts: its numbers as typed; uses: codes of the caller's, with groups.

    line: how it was read where it is more than plain words, and None else.
    """

    __slots__ = ("codes", "line", "numbers", "texts", "uses")

    def __init__(
        self,
        codes: Codes,
        numbers: Numbers,
        texts: Mapping[str, str],
        uses: Sequence[tuple[str, Sequence[str]]],
        line: ProgramLine | None = None,
    ) -> None:
        self.codes = codes
        self.numbers = numbers
        self.texts = texts
        self.uses = uses
        self.line = line

    @property
    def block_delete(self) -> bool:
        """Whether the line is left out with block delete on."""
        return self.line is not None and self.line.block_delete

    @property
    def only_ends(self) -> bool:
        """Whether nothing but end codes stands there."""
        ends, line = len(self.codes.ends), self.line
        if line is None:
            return ends == self.codes.counted and not self.numbers
        return 0 < ends == len(line.words) and not line.problems

    def jump(self) -> Decimal | None:
        """Where an M99 on this line goes on: the first P."""
        if self.line is None:
            return Decimal(self.texts["P"]) if "P" in self.texts else None
        return next((word.value for word in self.line.words if word.letter == "P"), None)


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
        self.kept: dict[str, Block] = {}
        self._codes: dict[tuple[Typed, ...], Codes | None] = {}
        self._none = self._made([], [], 0)

    def of(self, text: str, raw: bytes) -> Block:
        """The block of a line; `text` is `raw` as `reader` squeezes it."""
        block = self.kept.get(text)
        if block is None:
            short = without_comment(text)
            block = self._of_words(_words(short)) if _plain(short) else None
            if block is None:
                block = self._of_line(read_line(decoded(raw)))
            if len(raw) <= LINE_LIMIT and text.isascii():
                if len(self.kept) >= KEPT:
                    self.kept.clear()
                self.kept[text] = block
        return block

    def _of_words(self, words: Sequence[Typed]) -> Block | None:
        """The block of plain words; None where one is repeated or no control takes it."""
        numbers: dict[str, float | None] = {}
        texts: dict[str, str] = {}
        typed: list[Typed] = []
        for word in words:
            letter, text = word
            if letter == "G" or letter == "M":  # noqa: PLR1714 - half the time of `in`
                typed.append(word)
            else:
                numbers[letter] = float(text)
                texts[letter] = text
        if len(numbers) + len(typed) < len(words):
            return None
        codes = self._codes_of(typed) if typed else self._none
        if codes is None:
            return None
        uses = self._uses([_code(*word) for word in words]) if self._groups else ()
        return Block(codes, numbers, texts, uses)

    def _codes_of(self, typed: Sequence[Typed]) -> Codes | None:
        """The codes of one line, kept; None where a control would not take them."""
        key = tuple(typed)
        if key not in self._codes:
            if len(self._codes) >= KEPT:
                self._codes.clear()
            codes = [_code(*word) for word in typed if word[0] == "G"]
            m_codes = [_code(*word) for word in typed if word[0] == "M"]
            good = len(m_codes) <= M_LIMIT and not any(text.startswith("-") for _, text in typed)
            self._codes[key] = self._made(codes, m_codes, len(key)) if good else None
        return self._codes[key]

    def _of_line(self, line: ProgramLine) -> Block:
        """The block of any line."""
        others = [word for word in line.words if word.letter not in "GM"]
        codes = [word.code for word in line.words if word.letter == "G" and word.value is not None]
        m_codes = [
            word.code for word in line.words if word.letter == "M" and word.value is not None
        ]
        return Block(
            self._made(codes, m_codes, len(line.words) - len(others)),
            {word.letter: None if word.value is None else float(word.value) for word in others},
            {word.letter: word.text for word in others},
            self._uses([word.code for word in line.words]),
            line,
        )

    def _made(self, codes: Sequence[str], m_codes: Sequence[str], counted: int) -> Codes:
        return Codes(
            codes,
            m_codes,
            counted,
            next((code for code in codes if code in self._special), None),
            [code for code in m_codes if code in self._ends],
            "G65" in codes or "M98" in m_codes,
            clashing_groups([*codes, *m_codes]),
        )

    def _uses(self, codes: Sequence[str]) -> Sequence[tuple[str, Sequence[str]]]:
        return [(code, self._groups[code]) for code in codes if code in self._groups]


def _code(letter: str, text: str) -> str:
    return spell(letter, Decimal(text))


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
