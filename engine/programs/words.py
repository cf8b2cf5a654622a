"""One line of an NC program as words: no line can make this raise, none is dropped in silence.

A word's letter is upper case, its value the Decimal that was typed, or None if
it is a parameter or an expression ("not evaluated"). What is not understood
becomes a Problem with a kind and a reason that is plain ASCII.

Sources: NISTIR 6556 (Kramer, Proctor, Messina, The NIST RS274NGC Interpreter,
Version 3, 2000), 2.2.2 (block delete), 3.1 (percent signs) and 3.3: spaces and
letter case mean nothing outside comments, `/` first, N 0 to 99999, 256
characters, comments in ( ) do not nest and close on their line. `;` comments,
O numbers, `/2`, `,R` and macro words: common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal

from engine.views.programs import LineProblem

from .codes import spell, squeeze
from .expressions import (
    NUMBER,
    closing_bracket,
    expression_end,
    flow_at,
    named_flow_at,
    setting_end,
)

LINE_LIMIT = 256  # characters a line, NISTIR 6556, 3.3
LINE_KEPT = 4096  # what is read of a longer one
N_LIMIT = 99999  # NISTIR 6556, 3.3.1
M_LIMIT = 4  # M words a line, NISTIR 6556, 3.3.4 (section from memory)
VALUE_LIMIT = Decimal(10) ** 9  # no axis, feed or speed is larger: ours, no source

_MARKS = re.compile(r"[();]")
_WORD = re.compile(r"(,?[A-Z])([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?=[A-Z\n#]|,[A-Z]|$)")
_LETTER = re.compile(r",?[A-Z]")
_GARBAGE = re.compile(r",*[^A-Z\n#,]+|,+")
_STRAY = re.compile(r"[^A-Z\n#,]|,(?![A-Z])")
_SLASH = re.compile(r"/[1-9]?(?![0-9])|/")
_HEAD_N = re.compile(r"N([0-9]+)(?![0-9.])")
_HEAD_O = re.compile(r"[O:]([0-9]+)(?![0-9.])")


@dataclass(frozen=True, slots=True)
class Comment:
    """Text of a comment, without its marks; `mark` is "(" or ";"."""

    text: str
    mark: str


@dataclass(frozen=True, slots=True)
class Word:
    """Letter, value (None: not evaluated) and the value's text, upper case without blanks.

    The letter has a comma before it in `,R5` and `,C5` (common practice).
    """

    letter: str
    value: Decimal | None
    text: str

    @property
    def code(self) -> str:
        """One spelling for one code: `M 03 0` and `m30.` are "M30"."""
        return spell(self.letter, self.value) if self.value is not None else self.letter + self.text


@dataclass(frozen=True, slots=True)
class NotEvaluated:
    """What was recognised and not worked out; `kind` is "expression", "parameter" or "flow"."""

    kind: str
    text: str


@dataclass(slots=True)
class ProgramLine:
    """One line as read. `n`, `o`: numbers typed, None if none; `percent`: it starts with `%`.

    `conditional`: words follow an `IF [..]`, so whether they are carried out is not known.
    """

    number: int
    words: list[Word] = field(default_factory=list)
    comments: list[Comment] = field(default_factory=list)
    problems: list[LineProblem] = field(default_factory=list)
    not_evaluated: list[NotEvaluated] = field(default_factory=list)
    n: int | None = None
    o: int | None = None
    block_delete: bool = False
    percent: bool = False
    conditional: bool = False

    def problem(self, kind: str, reason: str) -> None:
        """Note a problem of this line."""
        self.problems.append(LineProblem(self.number, kind, reason))

    @property
    def blank(self) -> bool:
        """Whether nothing stands on the line but perhaps its number or a comment."""
        return not (self.words or self.not_evaluated or self.problems or self.o is not None)


def read_line(text: str, number: int = 0) -> ProgramLine:
    """Read one line of program text (its end-of-line mark may be there or not). Never raises."""
    text = text.rstrip("\r\n")
    line = ProgramLine(number)
    if len(text) > LINE_LIMIT:
        line.problem("too_long", f"more than {LINE_LIMIT} characters")
        text = text[:LINE_KEPT]
    code = squeeze(_take_comments(text.replace("\n", " ").replace("\r", " "), line))
    if code.startswith("%"):
        line.percent = True
        code = code[1:]
    at = _read_head(code, line)
    while at < len(code):
        at = _read_item(code, at, line)
    _check_repeats(line)
    return line


def _take_comments(text: str, line: ProgramLine) -> str:
    """Move comments into `line`; each leaves one "\\n", which no word may span."""
    code: list[str] = []
    at = 0
    while found := _MARKS.search(text, at):
        code.append(text[at : found.start()])
        mark, at = found.group(), found.end()
        if mark == ")":
            line.problem("comment_close", "`)` without `(`")
            code.append("\n")
            continue
        end = text.find(")", at) if mark == "(" else -1
        if mark == "(" and end < 0:
            line.problem("comment_open", "comment does not close on its line")
        body = text[at:] if end < 0 else text[at:end]
        if mark == "(" and "(" in body:
            line.problem("comment_nested", "`(` inside a comment: comments do not nest")
        line.comments.append(Comment(body.strip(), mark))
        code.append("\n")
        at = len(text) if end < 0 else end + 1
    code.append(text[at:])
    return "".join(code)


def _read_head(code: str, line: ProgramLine) -> int:
    """Block delete, N and O numbers; index of what follows them."""
    at = 0
    while at < len(code):
        if code[at] == "\n":
            at += 1
            continue
        slash = _SLASH.match(code, at) if not line.block_delete else None
        if slash:
            if line.n is not None:
                line.problem("slash", "`/` must come before the line number")
            line.block_delete = True
            at = slash.end()
            continue
        count = _HEAD_N.match(code, at) if line.n is None and line.o is None else None
        if count:
            line.n = int(count.group(1))
            if line.n > N_LIMIT or len(count.group(1)) > 5:
                line.problem("line_number", f"N is a whole number from 0 to {N_LIMIT}")
            at = count.end()
            continue
        start = _HEAD_O.match(code, at) if line.o is None else None
        if start is None or named_flow_at(code, start.end()):
            break
        line.o = int(start.group(1))
        at = start.end()
    return at


def _read_item(code: str, at: int, line: ProgramLine) -> int:
    """One word, setting, flow word or stretch of garbage; index of what follows it."""
    if code[at] == "\n":
        return at + 1
    if flow_at(code, at) or (code[at] in "O:" and _is_named_flow(code, at)):
        line.not_evaluated.append(NotEvaluated("flow", code[at:].replace("\n", "")))
        return len(code)
    word = _WORD.match(code, at)
    if word:
        _add_word(line, word.group(1), word.group(2))
        return word.end()
    if code[at] == "#":
        return _read_setting(code, at, line)
    if code.startswith("IF[", at):
        end = closing_bracket(code, at + 2)
        line.not_evaluated.append(NotEvaluated("flow", code[at:end]))
        line.conditional = True
        return end
    return _read_unusual(code, at, line)


def _read_setting(code: str, at: int, line: ProgramLine) -> int:
    """A parameter setting (NISTIR 6556, 3.3.3), noted and not carried out."""
    end = setting_end(code, at)
    if end > at:
        line.not_evaluated.append(NotEvaluated("parameter", code[at:end]))
        return end
    line.problem("parameter", "`#` without a number")
    while code.startswith("#", at):
        at += 1
    return at


def _is_named_flow(code: str, at: int) -> bool:
    number = _HEAD_O.match(code, at)
    return code.startswith("O<", at) or (number is not None and named_flow_at(code, number.end()))


def _read_unusual(code: str, at: int, line: ProgramLine) -> int:
    """A word whose value is an expression or wrong, or garbage."""
    letter = _LETTER.match(code, at)
    if letter is None:
        run = _GARBAGE.match(code, at)
        end = run.end() if run else at + 1
        line.problem("character", f"not understood: {code[at : min(end, at + 20)]!a}")
        return end
    end = expression_end(code, letter.end())
    text = code[letter.end() : end]
    if code.startswith("=", end) and NUMBER.fullmatch(text):  # `S1=500`: common practice
        end = max(expression_end(code, end + 1), end + 1)
        line.not_evaluated.append(NotEvaluated("parameter", code[at:end]))
        return end
    if end < len(code) and _STRAY.match(code, end):
        stray = _GARBAGE.match(code, end)
        end = stray.end() if stray else end + 1
        line.problem("number", f"not a number: {code[at : min(end, at + 20)]!a}")
    elif end == letter.end():
        hint = ": letter O where zero belongs?" if code.startswith("O", end) else ""
        line.problem("no_value", f"{letter.group()} without a number{hint}")
        end += 1 if hint else 0
    elif "#" in text or "[" in text or NUMBER.fullmatch(text):
        _add_word(line, letter.group(), text)
    else:
        line.problem("number", f"not a number: {code[at : min(end, at + 20)]!a}")
    return end


def _add_word(line: ProgramLine, letter: str, text: str) -> None:
    """Append a word with the checks that need no other word."""
    if NUMBER.fullmatch(text) is None:
        line.not_evaluated.append(NotEvaluated("expression", letter + text))
        line.words.append(Word(letter, None, text))
        return
    value = Decimal(text)
    if letter == "N":
        line.problem("line_number", "N must come first and be a whole number without sign")
    elif abs(value) > VALUE_LIMIT:
        line.problem("range", f"{letter} value out of all range")
    elif letter in "GM" and value < 0:
        line.problem("number", f"{letter} number below zero")
    else:
        line.words.append(Word(letter, value, text))


def _check_repeats(line: ProgramLine) -> None:
    """NISTIR 6556, 3.3.4 (section from memory): G any number, M four, any other letter once."""
    letters = [word.letter for word in line.words]
    if letters.count("M") > M_LIMIT:
        line.problem("repeated", f"more than {M_LIMIT} M words")
    if len(letters) == len(set(letters)):
        return
    for letter in sorted(set(letters) - {"G", "M"}):
        if letters.count(letter) > 1:
            line.problem("repeated", f"more than one {letter} word")
