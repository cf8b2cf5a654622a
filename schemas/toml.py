"""TOML in and out, in one canonical spelling.

Writing what was read from a canonical text gives the same bytes, and a change
of one value is a change of one line (lists stand one item to a line). Reading
is bounded before the parser sees the text: a megabyte, and few keys deep, for
the parser takes seconds over a long dotted key.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

import tomli_w

from schemas.address import Tree
from schemas.errors import Problem, ReadError
from schemas.lines import TextLayout, lay_out
from schemas.number import for_toml

MOST_BYTES = 1_000_000
MOST_KEYS = 8

_PLACE = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)")


@dataclass(frozen=True, slots=True)
class Parsed:
    """A TOML text as nested tables, with the layout it was found in."""

    tree: Tree
    text: str
    layout: TextLayout


def read_toml(data: bytes, file: str) -> Parsed:
    """Parse the bytes of one file. ReadError names the file and the line."""

    def refuse(line: int, what: str, hint: str) -> ReadError:
        return ReadError([Problem(file, line, "", what, hint)])

    if len(data) > MOST_BYTES:
        raise refuse(0, f"the file has {len(data):,} bytes", "A record stays under a megabyte.")
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise refuse(line, "the text is not UTF-8", "Save the file as UTF-8.") from error
    layout = lay_out(text)
    if layout.deepest > MOST_KEYS:
        raise refuse(0, "keys are nested too deeply", f"Use at most {MOST_KEYS} levels.")
    if layout.long_word:
        raise refuse(layout.long_word, "a number has far too many digits", "Correct the number.")
    try:
        tree = tomllib.loads(text, parse_float=read_decimal)
    except RecursionError as error:
        raise refuse(0, "brackets are nested too deeply", "Take the nested lists apart.") from error
    except (tomllib.TOMLDecodeError, ValueError) as error:
        line, what = _place(str(error), text)
        raise refuse(line, what, "Mend the line, or restore the record from its marks.") from error
    return Parsed(tree, text, layout)


def read_decimal(text: str) -> Decimal:
    """A number with its digits, for the parser. ValueError where there is none so large."""
    try:
        return Decimal(text)
    except InvalidOperation:
        raise ValueError(f"no number is as large or as small as {text[:40]}") from None


def _place(message: str, text: str) -> tuple[int, str]:
    """Take the parser's `(at line 3, column 5)` out of its message."""
    found = _PLACE.search(message)
    if found is None:
        start = text.find(message.rpartition(" ")[2])
        return text.count("\n", 0, max(start, 0)) + (start >= 0), f"not valid TOML: {message}"
    line = int(found[1]) if found[1] else text.count("\n") + 1
    return line, f"not valid TOML: {_PLACE.sub('', message)}"


def write_toml(tree: Mapping[str, Any]) -> bytes:
    """The canonical bytes of a tree; the order is the tree's own."""
    return tomli_w.dumps(_writable(tree), multiline_strings=False).encode("utf-8")


def _writable(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _writable(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_writable(item) for item in value]
    return for_toml(value) if isinstance(value, Decimal) else value


def spell_value(value: Any) -> str:
    """One value as TOML text on one line, for the journal and the index."""
    if isinstance(value, list):
        return "[" + ", ".join(spell_value(item) for item in value) + "]"
    return tomli_w.dumps({"x": _writable(value)})[4:-1]


def read_value(text: str) -> Any:
    """The value that `spell_value` wrote. ValueError where it is none."""
    found = tomllib.loads(f"x = {text}", parse_float=read_decimal)
    if len(found) != 1:
        raise ValueError("more than one value")
    return found["x"]
