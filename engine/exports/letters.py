"""Foreign text in files that others will open: every character drawn, replaced or escaped.

Nothing is left out silently: a character that cannot be drawn stands there as
its number, `[U+6F22]`. Text for one line never holds a line break, so a name
cannot begin a new group in a DXF or a new element in an SVG.
"""

from __future__ import annotations

import re
from collections.abc import Container
from functools import cache
from typing import Any
from unicodedata import category

_CODED = re.compile(r"\\(?=[UM]\+)", re.IGNORECASE)
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def one_line(text: str) -> str:
    """The text in one line, what cannot be seen replaced by its number."""
    spaced = " ".join(text.split())
    return "".join(_number(c) if category(c) in _UNSEEN else c for c in spaced)


def drawable(text: str, known: Container[int]) -> str:
    """The text in one line, with numbers for characters that a font does not have."""
    return "".join(c if ord(c) in known else _number(c) for c in one_line(text))


def _number(character: str) -> str:
    return f"[U+{ord(character):04X}]"


def for_dxf(text: str) -> str:
    """The text for a DXF TEXT entity: none of it is read as a control code.

    `%%c` would draw a diameter sign, `^J` break the line, `\\U+0041` be an A (DXF
    reference, control codes and special characters). A percent sign is written
    `%%%`, a caret `^ `, and the backslash of what looks like a code by its number.
    """
    plain = _CODED.sub(r"\\U+005C", one_line(text)).replace("^", "^ ")
    return plain.replace("%", "%%%") if "%%" in plain else plain


@cache
def characters(path: str) -> frozenset[int]:
    """Every character that a font file can draw."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    with TTFont(path, lazy=True) as font:
        best: Any = font.getBestCmap()
        return frozenset(best or ())
