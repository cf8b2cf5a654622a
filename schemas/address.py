"""One value has one address for ever: `positions.seat.reach`.

A tree is what a TOML file holds: nested tables with scalars or lists at the
ends. Flattening and growing back are inverse for trees without empty tables.
Lists are values, not tables: an address never has a number for an index.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from sys import intern
from typing import Any

from schemas.number import as_it_stands

Value = str | bool | int | Decimal | date | datetime | time | list[Any]
Tree = dict[str, Any]

KEY = re.compile(r"[A-Za-z0-9_-]{1,64}")
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


def flatten(tree: Mapping[str, Any], prefix: str = "") -> dict[str, Value]:
    """Every value of a tree by its address, in the tree's own order."""
    return dict(_walk(tree, prefix))


def _walk(tree: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Value]]:
    for key, value in tree.items():
        address = intern(f"{prefix}.{key}" if prefix else key)  # thousands of texts have the same
        if isinstance(value, Mapping):
            yield from _walk(value, address)
        else:
            yield address, value


def grow(values: Mapping[str, Value]) -> Tree:
    """The tree whose flattening is `values`."""
    tree: Tree = {}
    for address, value in values.items():
        put(tree, address, value)
    return tree


def put(tree: Tree, address: str, value: Value) -> None:
    """Set one value in place, making the tables on the way. ValueError where one is a value."""
    *tables, last = address.split(".")
    for key in tables:
        tree = tree.setdefault(key, {})
        if not isinstance(tree, dict):
            raise ValueError(f"{address} would lie in a value")
    tree[last] = value


def take_out(tree: Tree, address: str) -> None:
    """Remove one value or a whole table in place; empty tables go with it."""
    keys = address.split(".")
    path = [tree]
    for key in keys[:-1]:
        inner = path[-1].get(key)
        if not isinstance(inner, dict):
            return
        path.append(inner)
    path[-1].pop(keys[-1], None)
    for table, key in zip(reversed(path[:-1]), reversed(keys[:-1]), strict=True):
        if not table[key]:
            del table[key]


def look_up(tree: Mapping[str, Any], address: str) -> Any:
    """The value or table at an address, or None where there is none."""
    found: Any = tree
    for key in address.split("."):
        if not isinstance(found, Mapping) or key not in found:
            return None
        found = found[key]
    return found


def lies_in(address: str, table: str) -> bool:
    """Whether an address is the table itself or lies in it."""
    return address == table or address.startswith(table + ".")


def matches(address: str, pattern: str) -> bool:
    """Whether a pattern covers an address: `positions.*`, `*.bite`, `jaws`.

    `*` stands for one key; a pattern covers everything below what it names.
    """
    keys, wanted = address.split("."), pattern.split(".")
    if len(wanted) > len(keys):
        return False
    return all(w in ("*", k) for w, k in zip(wanted, keys, strict=False))


def natural(key: str) -> tuple[list[tuple[int, int, str]], str]:
    """A sort key under which T9 comes before T10, with the text to break ties."""
    parts = re.findall(r"\d+|\D+", key)
    return [(0, int(p), "") if p.isdigit() else (1, 0, p) for p in parts], key


def show(value: Value | None) -> str:
    """A value as it is written on screens and in messages; numbers as typed.

    A number that no field accepts (a hand edit that got into history) is shown as it stands.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | Decimal):
        return as_it_stands(value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, list):
        return ", ".join(show(item) for item in value)
    if isinstance(value, Mapping):  # in a list of a text that breaks a rule
        return "{" + ", ".join(f"{key} = {show(item)}" for key, item in value.items()) + "}"
    return str(value)


def same_text(one: Value | None, other: Value | None) -> bool:
    """Whether two values are the same to the letter (28 and 28.0 are not)."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same_text, one, other))
    return _kind(one) is _kind(other) and show(one) == show(other)


def _kind(value: Value | None) -> type:
    """Decimal for every number, so that 28 read as int or as Decimal is one thing."""
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        return Decimal
    return type(value)


def same_value(one: Value | None, other: Value | None) -> bool:
    """Whether two values are equal, however they are spelt (28 and 28.0 are).

    What is no number (`nan`) is the same as itself: it did not change by standing there.
    """
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same_value, one, other))
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same_value(one[k], other[k]) for k in one)
    if isinstance(one, Decimal) and isinstance(other, Decimal) and one.is_nan():
        return other.is_nan()
    return one == other
