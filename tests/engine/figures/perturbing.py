"""Which figures a number changes, found by trying: the oracle for what is recorded.

Every number is tried a little up and a little down, everything that may be absent is
also taken out. Nothing is changed in place, nothing is checked.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from engine.figures.inputs import Facts
from engine.figures.kinds import Figure

PARTS = {"": "record", "cell:": "cell", "policy:": "policy"}


def numbers(facts: Facts) -> Iterator[tuple[str, Any]]:
    """Every number of record, cell and policy by address; a list of numbers is one value."""
    for prefix, part in PARTS.items():
        for address, value in _numbers(getattr(facts, part), ""):
            yield prefix + address, value


def _numbers(found: Any, address: str) -> Iterator[tuple[str, Any]]:
    if isinstance(found, BaseModel):
        parts = [(name, getattr(found, name)) for name in type(found).model_fields]
    elif isinstance(found, dict):
        parts = list(found.items())
    else:
        parts = []
        whole = found if isinstance(found, list) else [found]
        if whole and all(_is_number(each) for each in whole):
            yield address, found
    for name, part in parts:
        yield from _numbers(part, f"{address}.{name}" if address else str(name))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def near(value: Any) -> Iterator[Any]:
    """The value a little larger and a little smaller; each entry of a list for itself."""
    if isinstance(value, list):
        for n, each in enumerate(value):
            for tried in near(each):
                yield [*value[:n], tried, *value[n + 1 :]]
    elif isinstance(value, int):
        yield value + 1
        yield value - 1
    else:
        step = max(abs(value) / 64, Decimal("0.001"))
        yield value + step
        yield value - step


def with_value(facts: Facts, address: str, value: Any) -> Facts:
    """Other facts with one value changed; None takes it out."""
    prefix, colon, rest = address.rpartition(":")
    models = {part: getattr(facts, part) for part in PARTS.values()}
    part = PARTS[prefix + colon]
    models[part] = _put(models[part], rest.split("."), value)
    return Facts(models["record"], models["cell"], models["policy"])


def _put(found: Any, keys: list[str], value: Any) -> Any:
    key, *rest = keys
    if isinstance(found, dict):
        if not rest and value is None:
            return {name: item for name, item in found.items() if name != key}
        return {**found, key: _put(found[key], rest, value) if rest else value}
    return found.model_copy(update={key: _put(getattr(found, key), rest, value) if rest else value})


def differs(one: Figure, other: Figure) -> bool:
    """Whether two figures of one name and place say different things."""
    return (one.value, one.limit, one.missing) != (other.value, other.limit, other.missing)
