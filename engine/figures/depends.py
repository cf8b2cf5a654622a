"""Which values a figure follows from, found by trying: change one, and see what differs.

Invariant: exact for the values as they stand, and no more. A value that would count
only if others were different (the smaller one of two that a figure takes the larger
of) is not named. Only numbers are tried, each a little up and a little down; a
figure is never judged by a tried value.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from importlib import import_module
from typing import Any, Literal

from pydantic import BaseModel

from engine.figures.model import Facts, Figure

Part = Literal["record", "cell", "policy"]
PARTS: tuple[Part, ...] = ("record", "cell", "policy")
_PREFIX: dict[Part, str] = {"record": "", "cell": "cell:", "policy": "policy:"}


@dataclass(frozen=True, slots=True)
class Input:
    """A value that a figure follows from; `cell:` and `policy:` stand before theirs."""

    address: str
    value: Any
    of_limit: bool  # the limit follows from it, and perhaps the value too


def inputs_of(facts: Facts, figure: Figure, part: Part) -> list[Input]:
    """What in the record, the cell or the policy changes the figure's value or its limit."""
    found = []
    model = getattr(facts, part)
    for address, value in numbers(model) if model is not None else ():
        changed = _changed(facts, figure, part, address, value)
        if any(changed):
            found.append(Input(_PREFIX[part] + address, value, changed[1]))
    return found


def touched_by(facts: Facts, address: str) -> list[str]:
    """Names of the figures that follow from one number of the record."""
    from engine.figures import all_figures

    value = dict(numbers(facts.record)).get(address)
    if value is None:
        return []
    before = {(f.name, f.at): (f.value, f.limit) for f in all_figures(facts)}
    names: dict[str, None] = {}
    for tried in _near(value):
        try:
            after = all_figures(_with(facts, "record", address, tried))
        except (ArithmeticError, LookupError, ValueError):
            continue
        for f in after:
            if before.get((f.name, f.at), (None, None)) != (f.value, f.limit):
                names[f.name] = None
    return list(names)


def numbers(model: BaseModel) -> Iterator[tuple[str, Any]]:
    """Every number of a model by address; a list of numbers is one value."""
    return _numbers(model, "")


def _numbers(found: Any, address: str) -> Iterator[tuple[str, Any]]:
    if isinstance(found, BaseModel):
        parts = [(name, getattr(found, name)) for name in type(found).model_fields]
    elif isinstance(found, dict):
        parts = list(found.items())
    else:
        parts = []
        whole = found if isinstance(found, list | tuple) else [found]
        if whole and all(_is_number(each) for each in whole) and not address.endswith(".sign"):
            yield address, found  # a sign is 1 or -1, there is nothing near it
    for name, part in parts:
        yield from _numbers(part, f"{address}.{name}" if address else str(name))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def _changed(
    facts: Facts, figure: Figure, part: Part, address: str, value: Any
) -> tuple[bool, bool]:
    of_value = of_limit = False
    for tried in _near(value):
        after = _same(_with(facts, part, address, tried), figure)
        of_value |= after is not None and after.value != figure.value
        of_limit |= after is not None and after.limit != figure.limit
    return of_value, of_limit


def _same(facts: Facts, figure: Figure) -> Figure | None:
    group = import_module(f"engine.figures.groups.{figure.group.replace(' ', '_')}")
    try:
        every = group.figures(facts)
    except (ArithmeticError, LookupError, ValueError):  # a tried value that makes no sense
        return None
    return next((f for f in every if (f.name, f.at) == (figure.name, figure.at)), None)


def _near(value: Any) -> Iterator[Any]:
    """The value a little larger and a little smaller; each entry of a list for itself."""
    if isinstance(value, list | tuple):
        for n, each in enumerate(value):
            for tried in _near(each):
                yield type(value)([*value[:n], tried, *value[n + 1 :]])
    elif isinstance(value, int):
        yield value + 1
        yield value - 1
    else:
        step = max(abs(value) / 64, Decimal("0.001"))
        yield value + step
        yield value - step


def _with(facts: Facts, part: Part, address: str, value: Any) -> Facts:
    models = {name: getattr(facts, name) for name in PARTS}
    models[part] = _put(models[part], address.split("."), value)
    return Facts(models["record"], models["cell"], models["policy"])


def _put(found: Any, keys: list[str], value: Any) -> Any:
    """A copy with one value changed; nothing is changed in place, nothing checked."""
    key, *rest = keys
    if isinstance(found, dict):
        return {**found, key: _put(found[key], rest, value) if rest else value}
    return found.model_copy(update={key: _put(getattr(found, key), rest, value) if rest else value})
