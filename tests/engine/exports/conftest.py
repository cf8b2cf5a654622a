"""A little book whose first record has a whole tray: 4 across, 3 along, round pockets."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from engine.book import Book
from tests.mini_book import SEAT

CELL = {
    "bed.corner": "near left",
    "bed.path": "row by row",
    "bed.across_axis": "reach",
    "bed.along_axis": "lift",
    "axes.reach.along": "x",
    "axes.reach.sign": "1",
    "axes.lift.along": "y",
    "axes.lift.sign": "1",
}
TRAY = {
    "tray.across": "4",
    "tray.along": "3",
    "tray.pitch_across": "96.0",
    "tray.pitch_along": "90.5",
    "tray.first_across": "60.0",
    "tray.first_along": "55.0",
    "tray.pocket_shape": "round",
    "tray.pocket_size": "74.0",
    "tray.pocket_depth": "6.0",
    "tray.plate_across": "408.0",
    "tray.plate_along": "291.0",
    "tray.unused": "r3c4",
}
BLOCKS = {
    "tray.pocket_shape": "rectangle",
    "tray.pocket_size": "60.0",
    "tray.pocket_length": "70.0",
}


@pytest.fixture
def inked(at: Callable[[str], Book]) -> Callable[..., Book]:
    """`inked(...)`: the cell and the tray inked with some values changed; opened for Mira."""

    def ink(cell: dict[str, str] | None = None, record: dict[str, str] | None = None) -> Book:
        lead, setter = at("ole"), at("mira")
        lead.document("cells/lathe").pencil.set_all({**CELL, **(cell or {})})
        lead.document("cells/lathe").ink("measured")
        setter.document(SEAT).pencil.set_all({**TRAY, **(record or {})})
        setter.document(SEAT).ink("measured the tray")
        return setter

    return ink
