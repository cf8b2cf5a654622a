"""A text that a hand wrote, laid out as our writer would: so the quick reader can take it, too.

Only what TOML gives no meaning to is changed (spaces, empty lines, comments, line ends), and
values on one line are spelt as the writer spells them, each read by the full parser on its own.
So a tidied text says what the text says, and is valid TOML only if that is; whether it is
canonical now, the quick reader tells. Tables stay in their order. It is never stored anywhere.
"""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache

from engine.log.canonical_text import BARE, spell
from schemas.toml import MOST_BYTES, read_decimal

_COMMENT = re.compile(
    r"""^([^"'#\n]*+(?:"[^"\\\n]*+"[^"'#\n]*+)*+)#[^\x00-\x08\x0a-\x1f\x7f]*+$""", re.MULTILINE
)
_SPACING = re.compile(
    r"^(?![A-Za-z0-9_-]++ = [^ \t])[ \t]*+([A-Za-z0-9_-]++)[ \t]*+=[ \t]*+", re.MULTILINE
)
_BLANKS = re.compile(r"[ \t]+$", re.MULTILINE)
_INDENTED = re.compile(r"^[ \t]+(\[[A-Za-z0-9_.-]+\])$", re.MULTILINE)
_OWN = rf"""(?!-0(?:\.0*)?$)(?:{BARE}|"(?:[^"\\\n]|\\[^\n])*+"|\[\]?)$"""  # as the writer spells
_ODD = re.compile(rf"^[A-Za-z0-9_-]++ = (?!{_OWN})[^\n]++$", re.MULTILINE)
_LONG_WORD = re.compile(r"\w{100}")  # the full reader refuses a number of so many digits


def tidied(data: bytes) -> bytes | None:
    """The same text in the writer's layout; None where that cannot be told line by line."""
    if len(data) > MOST_BYTES or b'"""' in data or b"'''" in data:
        return None
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return None
    text = text.replace("\r\n", "\n") + "\n"
    if "#" in text:
        text = _COMMENT.sub(_first, text)
    text = _SPACING.sub(_spaced, text)
    if " \n" in text or "\t\n" in text:
        text = _BLANKS.sub("", text)
    text = _ODD.sub(_respelt, _INDENTED.sub(_first, text))
    text = "\n".join([line for line in text.split("\n") if line])
    return f"{text}\n".replace("\n[", "\n\n[").encode("utf-8")


def _first(found: re.Match[str]) -> str:
    return found[1]


def _spaced(found: re.Match[str]) -> str:
    return f"{found[1]} = "


def _respelt(line: re.Match[str]) -> str:
    return _respelt_line(line[0])


@lru_cache(maxsize=4_000)
def _respelt_line(line: str) -> str:
    """One value as the writer spells it; the line as it is where it is no such thing.

    What the parser takes as a whole is a whole statement wherever it stands at the start of one.
    """
    if _LONG_WORD.search(line):
        return line
    try:
        read = tomllib.loads(line, parse_float=read_decimal)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return line
    ((key, value),) = read.items()
    if isinstance(value, list) and value and not any(isinstance(v, list | dict) for v in value):
        return f"{key} = [\n" + "".join(f"    {spell(item)},\n" for item in value) + "]"
    return line if isinstance(value, list | dict) else f"{key} = {spell(value)}"
