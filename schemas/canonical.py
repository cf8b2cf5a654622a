"""What a document says, whatever its spelling, its order, its comments and its format.

The canonical form is one line for each value, `address = value`, sorted by address as
text. Addresses are the present ones. A number is written without trailing zeros (28.0
and 28 are one value), text and moments as TOML writes them, a list as `[a, b]`. The
file's own `format` is left out, and what is absent adds nothing: so a field that a later
format brings changes no hash until somebody fills it in. A later renaming does change
it: a hash is to be compared within one format of the schema only (`FORMATS`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from schemas.address import Value, same_value
from schemas.number import as_it_stands, spell
from schemas.toml import spell_value

OF_THE_FILE = "format"  # says how the text is written, nothing of the job


def canonical_lines(values: Mapping[str, Value]) -> list[str]:
    """The canonical form of values by address."""
    said = {a: value for a, value in values.items() if a != OF_THE_FILE}
    return [f"{address} = {_form(said[address])}" for address in sorted(said)]


def hash_of_values(values: Mapping[str, Value]) -> str:
    """SHA-256 of the canonical form, in UTF-8 with a line end behind each line."""
    text = "".join(f"{line}\n" for line in canonical_lines(values))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def say_the_same(one: Mapping[str, Value], other: Mapping[str, Value]) -> bool:
    """Whether two documents say the same, value by value."""
    addresses = {*one, *other} - {OF_THE_FILE}
    return all(same_value(one.get(a), other.get(a)) for a in addresses)


def _form(value: Any) -> str:
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        return _number(Decimal(value))
    if isinstance(value, list):
        return "[" + ", ".join(map(_form, value)) + "]"
    if isinstance(value, Mapping):  # in a text that breaks a rule
        inner = ", ".join(f"{spell_value(key)} = {_form(value[key])}" for key in sorted(value))
        return "{" + inner + "}"
    return spell_value(value)


def _number(value: Decimal) -> str:
    try:
        text = spell(value)
    except ValueError:  # in a text that breaks a rule: as short as it stands there
        return as_it_stands(value)
    if "." in text:
        text = text.rstrip("0").removesuffix(".")
    return "0" if text == "-0" else text
