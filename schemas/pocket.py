"""A pocket of the tray, the same everywhere: (column, row), counted from zero at r1c1.

People write it the other way round and from one: r4c9 is the ninth pocket of the
fourth row.
"""

from __future__ import annotations

Pocket = tuple[int, int]


def name_of(pocket: Pocket) -> str:
    """A pocket as people write it: r2c5."""
    return f"r{pocket[1] + 1}c{pocket[0] + 1}"


def pocket_of(name: str) -> Pocket:
    """The pocket of a name as people write it."""
    row, _, column = name.removeprefix("r").partition("c")
    return int(column) - 1, int(row) - 1


def by_row(pocket: Pocket) -> tuple[int, int]:
    """Sorts pockets row by row."""
    return pocket[1], pocket[0]
