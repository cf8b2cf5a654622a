"""Foreign text becomes harmless here, and nowhere else.

Invariant: what `safe` returns moves no cursor, switches no direction, starts no
escape sequence, can be encoded, and shows one sign for each sign it took away.
It is never markup: screens paint it as it stands. `safe(safe(x)) == safe(x)`.

Foreign is everything that was not written in this source: values, names,
reasons, file names, messages of other programs.

Data for other programs loses nothing: `spelt_out` writes as `\\u001b` just those signs
that `safe` takes away, so that what a pipe carried can be shown later without harm.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from typing import Protocol

from rich.cells import cell_len, set_cell_size

REPLACED = "\ufffd"
NEW_LINE = "\u00b6"
MOST_COMBINING = 2
# signs of formulas and units that a terminal without them can still tell
PLAINER = {"·": ".", "−": "-", "µ": "u", "×": "x", "–": "-", "²": "2"}

_HARMFUL = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f"
    "\u2028-\u202e\u2060-\u206f\u2800\u3164\ud800-\udfff\ue000-\uf8ff\ufe00-\ufe0f\ufeff\uffa0"
    "\ufff0-\ufffc\U000e0000-\U0010ffff]"
)
_NO_SIGNS = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")  # what has no picture of its own
_BEYOND_LATIN = re.compile("[^\x00-\x9f\xa1-\u02ff]")


class Stream(Protocol):
    """As much of an output stream as is asked about here."""

    def isatty(self) -> bool:
        """Whether a terminal is at the other end."""
        ...


def safe(text: str, *, lines: bool = False) -> str:
    """The text as it may go to a terminal; with `lines`, line ends stay as they are."""
    text = text.replace("\r\n", "\n").replace("\t", " ")
    if lines:
        return "\n".join(_harmless(line) for line in text.split("\n"))
    return _harmless(text.replace("\n", NEW_LINE))


def spelt_out(text: str, encoding: str = "utf-8") -> str:
    """The text with `\\uXXXX`, as in JSON, for each sign that `safe` would take away.

    Line ends and tabs are among them, odd spaces are not; so is what the encoding lacks.
    """
    text = _without_harm(text, _spelt, spaces=False)
    if _has_all(encoding) or text.isascii():
        return text
    return "".join(s if s == _there_and_back(s, encoding) else _spelt(s) for s in text)


def _spelt(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))


def _harmless(text: str) -> str:
    return _without_harm(text, lambda _: REPLACED, spaces=True)


def _without_harm(text: str, instead: Callable[[str], str], *, spaces: bool) -> str:
    """The text with something else for each sign that does harm; odd spaces become plain ones."""
    if _BEYOND_LATIN.search(text):
        return "".join(_with_pictures(text, instead, spaces=spaces))
    return _HARMFUL.sub(lambda found: instead(found[0]), text)


def _with_pictures(text: str, instead: Callable[[str], str], *, spaces: bool) -> Iterator[str]:
    """No sign that is none, no odd spaces; and few signs without a width on one that has one."""
    pile = MOST_COMBINING  # at the start there is nothing to stand on
    for sign in text:
        kind = unicodedata.category(sign)
        if kind in _NO_SIGNS or _HARMFUL.match(sign):
            pile = 0
            yield instead(sign)
        elif kind in ("Mn", "Me") or (sign > "\u02ff" and not cell_len(sign)):
            pile += 1
            yield sign if pile <= MOST_COMBINING else instead(sign)
        else:
            pile = 0
            yield " " if spaces and kind == "Zs" else sign


def fit(text: str, width: int, *, right: bool = False) -> str:
    """Safe text in exactly `width` cells; what is cut off is told by two points."""
    text = safe(text)
    length = cell_len(text)
    if length > width:
        cut = max(width - 2, 0)
        return set_cell_size(text, cut) + ".."[: width - cut]
    room = " " * (width - length)
    return room + text if right else text + room


def wrap(text: str, width: int) -> list[str]:
    """Safe text in lines of at most `width` cells, broken between words where possible."""
    found: list[str] = []
    for line in safe(text, lines=True).split("\n"):
        row = ""
        for word in line.split(" "):
            longer = f"{row} {word}" if row else word
            if cell_len(longer) <= width:
                row = longer
                continue
            if row:
                found.append(row)
            row = word
            while cell_len(row) > width:
                head = set_cell_size(row, width).rstrip()
                found.append(head)
                row = row[max(len(head), 1) :]
        found.append(row)
    return found


def encodable(text: str, encoding: str) -> str:
    """Text whose every sign the terminal's encoding has; others become plainer, or `?`."""
    if _has_all(encoding) or text.isascii():
        return text
    return "".join(
        sign if sign == _there_and_back(sign, encoding) else _plainer(sign) for sign in text
    )


def _has_all(encoding: str) -> bool:
    return encoding.lower().replace("-", "").replace("_", "") == "utf8"


def _plainer(sign: str) -> str:
    return PLAINER.get(sign) or "?" * cell_len(sign)


def _there_and_back(sign: str, encoding: str) -> str:
    try:
        return sign.encode(encoding).decode(encoding)
    except (UnicodeError, LookupError):
        return ""


def terminal_can(env: Mapping[str, str], stream: Stream) -> bool:
    """Whether a terminal is there that can be painted on; otherwise text is printed."""
    return stream.isatty() and env.get("TERM", "") not in ("", "dumb")
