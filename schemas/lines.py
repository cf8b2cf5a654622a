"""Where things stand in a TOML text: the line of each address, and each comment.

The parser of the standard library gives values but neither lines nor comments,
and both are owed to a person who edits by hand. This reads the lexical layer
only (strings, brackets, comments, headers); it never decides what a value is,
so a disagreement with the parser costs a line number, never a value. Linear in
the length of the text: a string that never ends is one token, not tried anew at
each of its quotes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

_TOKEN = re.compile(
    r'"""(?:[^"\\]|\\.|""?(?!"))*+(?:"{3,5})?'
    r"|'''(?:[^']|''?(?!'))*+(?:'{3,5})?"
    r'|"(?:[^"\\\n]|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*"
    r"|[\[\]{}=\n]"
    r"|[^\"'#\[\]{}=\n]+"
    r"|.",
    re.DOTALL,
)
_LONG_WORD = re.compile(r"\w{100}")  # no number, date or bare word is that long
_PART = re.compile(r'"((?:[^"\\]|\\.)*)"|\'([^\']*)\'|([A-Za-z0-9_-]+)')


@dataclass(slots=True)
class TextLayout:
    """Lines by address (tables too), and comments as (line, address near, text)."""

    lines: dict[str, int] = field(default_factory=dict)
    comments: list[tuple[int, str, str]] = field(default_factory=list)
    deepest: int = 0  # keys in the longest dotted key, inside values too
    long_word: int = 0  # line of a bare word longer than any number; 0 if none

    def line_of(self, address: str) -> int:
        """The line of an address, or of the nearest table above it; 0 if none."""
        keys = address.split(".")
        for length in range(len(keys), 0, -1):
            line = self.lines.get(".".join(keys[:length]))
            if line:
                return line
        return 0


def lay_out(text: str) -> TextLayout:
    """Read a text's lines, comments and depth. Never raises on garbage."""
    return _Scanner(text).run()


class _Scanner:
    """Walks the tokens once, keeping the table it is in and the key being built."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.layout = TextLayout()
        self.table = ""
        self.near = ""
        self.line = 1
        self.depth = 0  # of brackets inside a value
        self.dots = 0  # since the last comma, bracket or equals sign inside a value
        self.in_value = False
        self.key: list[str] = []  # the pieces of a line before its `=`

    def run(self) -> TextLayout:
        for match in _TOKEN.finditer(self.text):
            token = match.group()
            if token == "\n":
                self._end_of_line()
            elif token.startswith("#"):
                self._comment(token)
            elif self.in_value:
                self._inside_value(token)
            elif token == "=":
                self._equals()
            else:
                self.key.append(token)
            self.line += token.count("\n")
        self._end_of_line()
        return self.layout

    def _end_of_line(self) -> None:
        if self.in_value and self.depth > 0:
            return
        if not self.in_value:
            self._header()
        self.key, self.in_value, self.depth, self.dots = [], False, 0, 0

    def _inside_value(self, token: str) -> None:
        if token[0] in "\"'":
            return
        if token in "[]{}=":
            self.depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(token, 0)
            self.dots = 0
            return
        for position, piece in enumerate(token.split(",")):
            self.dots = piece.count(".") + (0 if position else self.dots)
            self.layout.deepest = max(self.layout.deepest, self.dots + 1)
        if not self.layout.long_word and _LONG_WORD.search(token):
            self.layout.long_word = self.line

    def _equals(self) -> None:
        own = self._dotted("".join(self.key))
        self.near = f"{self.table}.{own}" if self.table else own
        self.layout.lines.setdefault(self.near, self.line)
        self.in_value = True

    def _header(self) -> None:
        text = "".join(self.key).strip()
        if text.startswith("[") and text.endswith("]"):
            self.table = self.near = self._dotted(text.strip("[] \t"))
            self.layout.lines.setdefault(self.table, self.line)

    def _dotted(self, text: str) -> str:
        parts = [a or b or c for a, b, c in _PART.findall(text)]
        self.layout.deepest = max(self.layout.deepest, len(parts))
        return ".".join(parts)

    def _comment(self, token: str) -> None:
        if not self.in_value:
            self._header()
        words = token.lstrip("#").strip()
        if words:
            self.layout.comments.append((self.line, self.near, words))
