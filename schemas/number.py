"""A number keeps the digits that a person typed: 104.250 stays 104.250, 28 stays 28.

One canonical spelling for each: no exponent, no sign on zero, no leading zeros,
no underscores; trailing zeros are the person's own and stay. Two spellings of
one number are equal as values and differ as text. NaN and infinity do not exist
here, and no number is longer than `MOST_DIGITS`, so that a hostile file cannot
ask for a million digits.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from typing import Annotated

from pydantic import BeforeValidator

MOST_DIGITS = 24

_TYPED = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")


class _Plain(Decimal):
    """A Decimal whose text never has an exponent; tomli-w writes what str() says."""

    def __str__(self) -> str:
        return format(Decimal(self), "f")


def canonical(value: Decimal | int) -> Decimal:
    """The number with its one spelling. ValueError where it has none."""
    if isinstance(value, int) and value.bit_length() > 4 * MOST_DIGITS:  # before it takes seconds
        raise ValueError(f"a number of more than {MOST_DIGITS} digits")
    number = Decimal(value)
    if not number.is_finite():
        raise ValueError("not a number that can be measured")
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    if -exponent > MOST_DIGITS or number.adjusted() >= MOST_DIGITS:
        raise ValueError(f"a number of more than {MOST_DIGITS} digits")
    if exponent > 0:
        number = number.quantize(Decimal(1))
    return number.copy_abs() if number.is_zero() else number


def spell(value: Decimal | int) -> str:
    """The canonical text of a number, as it stands in files, screens and messages."""
    return format(canonical(value), "f")


def is_measurable(value: object) -> bool:
    """Whether something is a number that has a canonical spelling; a truth value is none."""
    if type(value) is Decimal:  # asked of each value in a listing
        exponent = value.as_tuple()[2]
        return type(exponent) is int and exponent >= -MOST_DIGITS and value.adjusted() < MOST_DIGITS
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return False
    try:
        canonical(value)
    except ValueError:
        return False
    return True


def as_it_stands(value: Decimal | int) -> str:
    """The text of any number that TOML can hold, for what got into a past by hand.

    Its canonical spelling where it has one; else short whatever its size: `nan`, `-inf`,
    `1e+30`, `0x1fff…`.
    """
    try:
        return spell(value)
    except ValueError:
        pass
    if isinstance(value, Decimal):
        return str(value).lower().replace("snan", "nan").replace("infinity", "inf")
    try:
        return str(value)
    except ValueError:  # of more digits than Python turns into decimal
        return hex(value)


def for_toml(value: Decimal) -> int | Decimal:
    """What to hand to tomli-w so that it writes `spell(value)` and nothing else."""
    plain = canonical(value)
    return int(plain) if plain.as_tuple().exponent == 0 else _Plain(plain)


def read_typed(text: str) -> Decimal:
    """A number as a person types it. ValueError says what is wrong with it.

    `.5` and `5.` are numbers in a shop; a decimal comma is refused rather than
    guessed, since 1,234 can be read two ways.
    """
    stripped = text.strip()
    if "," in stripped:
        raise ValueError(f"{stripped!r} has a comma; write the decimals after a point")
    if not _TYPED.fullmatch(stripped):
        raise ValueError(
            f"{stripped!r} is not a number; write digits and a point, for example 104.250"
        )
    try:
        return canonical(Decimal(stripped))
    except InvalidOperation as error:  # pragma: no cover - the pattern keeps it out
        raise ValueError(f"{stripped!r} is not a number") from error


def _accept(value: object) -> object:
    """Numbers come from TOML as int or Decimal; anything else is pydantic's to refuse."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise ValueError("a number is wanted here, without quotes")
    return canonical(value)


Number = Annotated[Decimal, BeforeValidator(_accept)]
