"""One spelling for one code, whatever was typed: `m 03 0` is "M30", `g054.10` is "G54.1".

Nothing here knows what a code does, except for the table of modal groups: two
codes of one group exclude each other on a line.

Sources: NISTIR 6556, 3.3 (blanks and letter case mean nothing), 3.4 (modal
groups; the table from memory). G32 and G33, G50, G95 to G97: common practice,
no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

_SQUEEZE = {ord(" "): None, ord("\t"): None} | {c: c - 32 for c in range(97, 123)}
_CODE = re.compile(r"([A-Z])([0-9]+\.?[0-9]*|\.[0-9]+)")
_CODE_LENGTH = 40

_GROUPS = {
    "motion": "G0 G1 G2 G3 G32 G33 G38.2 G73 G74 G76 G80 G81 G82 G83 G84 G85 G86 G87 G88 G89",
    "plane": "G17 G18 G19",
    "distance": "G90 G91",
    "feed mode": "G93 G94 G95",
    "units": "G20 G21",
    "radius compensation": "G40 G41 G42",
    "length compensation": "G43 G49",
    "return level": "G98 G99",
    "work offset": "G54 G55 G56 G57 G58 G59 G54.1 G59.1 G59.2 G59.3",
    "path control": "G61 G61.1 G64",
    "stop": "M0 M1 M2 M30 M60",
    "spindle": "M3 M4 M5",
}
GROUP_OF = {code: group for group, codes in _GROUPS.items() for code in codes.split()}


def squeeze(text: str) -> str:
    """The text in upper case without spaces and tabs (NISTIR 6556, 3.3); ASCII letters only."""
    return text.translate(_SQUEEZE)


def spell(letter: str, value: Decimal) -> str:
    """Letter and value in one spelling: no leading zeros, no trailing ones after the point."""
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    digits = text.lstrip("+-").lstrip("0")
    if digits.startswith(".") or not digits:
        digits = "0" + digits
    return f"{letter}{'-' if text.startswith('-') and digits != '0' else ''}{digits}"


def canonical_code(text: str) -> str:
    """One spelling of a code that a person typed: " m 03 0" -> "M30", "g054.10" -> "G54.1".

    Raises ValueError if it is not one letter and one number without sign.
    """
    found = _CODE.fullmatch(squeeze(text[:_CODE_LENGTH]).strip())
    if found is None or len(text) > _CODE_LENGTH:
        raise ValueError(f"not a code of one letter and one number: {text[:_CODE_LENGTH]!a}")
    return spell(found.group(1), Decimal(found.group(2)))


def clashing_groups(codes: Iterable[str]) -> list[str]:
    """Names of the modal groups of which more than one code is given (NISTIR 6556, 3.4)."""
    seen: dict[str, str] = {}
    clashing: list[str] = []
    for code in codes:
        group = GROUP_OF.get(code)
        if group is not None and seen.setdefault(group, code) != code and group not in clashing:
            clashing.append(group)
    return clashing
