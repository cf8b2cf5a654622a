"""What a person types becomes a value of the right kind, or a refusal in words.

The same function serves the command line and the screens, so that both accept
and refuse the same things. Nothing is guessed: a comma in a number, a choice
that is not listed or a unit after a number is refused with what would do.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any, get_args

from pydantic import BaseModel

from schemas.address import Value
from schemas.errors import ValueRefused
from schemas.fields import Described, describe, nearest, plain
from schemas.number import read_typed

_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


def describe_known(model: type[BaseModel], address: str) -> Described:
    """The description of an address that a value can stand at; ValueRefused otherwise."""
    described = describe(model, address)
    if described is None:
        near = nearest(model, address)
        above = address.rpartition(".")[0]
        hint = (
            f"Did you mean {f'{above}.{near}' if above else near}?"
            if near
            else ("Addresses are written as positions.seat.reach; `?` in the editor lists them.")
        )
        raise ValueRefused(f"there is no address {address!r}", hint=hint)
    if described.kind == "table":
        hint = f"Name one value below it, as {address}.…"
        raise ValueRefused(f"{address} is a table, not a value", hint=hint)
    return described


def read_as(described: Described, text: str) -> Value:
    """The value that `text` means at an address. ValueRefused says what is wrong."""
    try:
        return _READERS[described.kind](described, text)
    except ValueError as error:
        raise ValueRefused(str(error), where=described.address, hint=_hint(described)) from None


def _hint(described: Described) -> str:
    if described.choices:
        return "One of: " + ", ".join(described.choices)
    unit = described.unit
    return f"{described.meaning}{f', in {unit}' if unit and unit != '1' else ''}"


def _text(_: Described, text: str) -> str:
    return text


def _number(_: Described, text: str) -> Value:
    return read_typed(text)


def _whole(_: Described, text: str) -> int:
    if not re.fullmatch(r"[+-]?\d{1,12}", text.strip()):
        raise ValueError(f"{text.strip()!r} is not a whole number")
    return int(text)


def _yes_no(_: Described, text: str) -> bool:
    value = _YES_NO.get(text.strip().lower())
    if value is None:
        raise ValueError(f"{text.strip()!r} is neither yes nor no")
    return value


def _choice(described: Described, text: str) -> Value:
    options = get_args(plain(described.annotation))
    for option in options:
        if str(option).lower() == text.strip().lower():
            return option  # type: ignore[no-any-return]
    raise ValueError(f"{text.strip()!r} is not one of the choices")


def _date(_: Described, text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"{text.strip()!r} is not a date; write it as 2026-03-02") from None


def _list(described: Described, text: str) -> list[Any]:
    inner = get_args(plain(described.annotation))[0]
    item = Described(
        described.address,
        described.meaning,
        described.unit,
        _kind_of(inner),
        tuple(map(str, get_args(plain(inner)))),
        inner,
    )
    pieces = [piece.strip() for piece in text.strip().strip("[]").split(",")]
    return [_READERS[item.kind](item, piece.strip("\"'")) for piece in pieces if piece]


def _kind_of(annotation: Any) -> str:
    inner = plain(annotation)
    if hasattr(inner, "__name__") and inner.__name__ in ("Decimal", "int"):
        return "number" if inner.__name__ == "Decimal" else "whole"
    return "choice" if get_args(inner) else "text"


_READERS: dict[str, Callable[[Described, str], Value]] = {
    "text": _text,
    "number": _number,
    "whole": _whole,
    "yes/no": _yes_no,
    "choice": _choice,
    "list": _list,
    "date": _date,
}
