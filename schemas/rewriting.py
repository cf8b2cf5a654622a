"""Bringing a text to the present format without touching anything else in it.

Only the number of the format and the keys that have other names are written anew, in
their own lines: comments, order, spelling and blank lines stay. The result is read again
and must say what the old text said; where it would not, there is none, and nobody's
words are lost.
"""

from __future__ import annotations

import re

from schemas.address import flatten, same_text
from schemas.document import FORMATS, kind_of, read_tree
from schemas.errors import ReadError
from schemas.lines import TextLayout
from schemas.toml import read_toml
from schemas.upgrade import is_old, present

_FIRST_LINE = re.compile(rb"format = ([0-9]{1,9})\n")
_SAID = re.compile(rb"^\s*format\s*=\s*([0-9]{1,9})\s*(?:#|\r?$)", re.MULTILINE)
_KEY = rb"((?:[A-Za-z0-9_-]+[ \t]*\.[ \t]*)*)"


def format_of(data: bytes) -> int:
    """The format that a text says it has, even one that cannot be read otherwise; 0 for none."""
    quick = _FIRST_LINE.match(data)
    if quick:
        return int(quick[1])
    try:
        number = read_toml(data, "").tree.get("format")
    except ReadError:
        said = _SAID.search(data.partition(b"\n[")[0])
        return int(said[1]) if said else 0
    return number if isinstance(number, int) and not isinstance(number, bool) else 0


def rewritten(data: bytes, path: str) -> bytes | None:
    """The text in the present format; None where that takes more than other names.

    The text must be readable and of an older format.
    """
    kind = kind_of(path)
    assert kind is not None
    parsed = read_toml(data, path)
    assert is_old(kind, parsed.tree.get("format"))
    lines = data.split(b"\n")
    wanted = {"format": "format"} | dict(renamed(data, path))
    for old, new in wanted.items():
        n = parsed.layout.lines.get(old, 0) - 1
        if n < 0:
            return None
        lines[n] = _line(lines[n], old, new, FORMATS[kind])
    made = b"\n".join(lines)
    return made if _says_the_same(read_tree(data, path), made, path) else None


def renamed(data: bytes, path: str) -> list[tuple[str, str]]:
    """Addresses of a text that have other names now: (old, present)."""
    kind = kind_of(path) or ""
    pairs = [(a, present(kind, a)) for a in flatten(read_toml(data, path).tree)]
    return [(old, new) for old, new in pairs if old != new]


def _line(line: bytes, old: str, new: str, number: int) -> bytes:
    """A line with its key's last word written anew, or with another number of the format."""
    if old == "format":
        return re.sub(rb"^((?:\xef\xbb\xbf)?\s*format\s*=\s*)\d+", rb"\g<1>%d" % number, line)
    word, other = (address.rpartition(".")[2].encode() for address in (old, new))
    return re.sub(rb"^(\s*)" + _KEY + re.escape(word) + rb"(?=\s*=)", rb"\1\2" + other, line)


def _says_the_same(old: tuple[dict[str, object], str, TextLayout], made: bytes, path: str) -> bool:
    """Whether the new text, read as it stands, says what the old one does at present addresses."""
    try:
        parsed = read_toml(made, path)
    except ReadError:
        return False
    before, after = flatten(old[0]), flatten(parsed.tree)
    same = list(before) == list(after) and all(same_text(before[a], after[a]) for a in before)
    return same and old[2].comments == parsed.layout.comments
