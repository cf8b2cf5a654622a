"""What is kept for a cell changes no figure: the same as with a cell that was never seen."""

from __future__ import annotations

from decimal import Decimal

import pytest

from engine.figures import all_figures
from engine.figures.inputs import Facts, Missing
from schemas.address import grow, put, take_out
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.document import read_document
from schemas.record import Record
from tests.demo_book import DEMO

RECORDS = sorted(path.stem for path in (DEMO / "records").glob("*.toml"))


def read(path: str) -> object:
    return read_document((DEMO / path).read_bytes(), path).model


BOOK = read("book.toml")
assert isinstance(BOOK, BookFile)
POLICY = BOOK.policy


def cell_of(name: str) -> Cell:
    """The cell, read anew: nothing is kept for it yet."""
    found = read(f"cells/{name}.toml")
    assert isinstance(found, Cell)
    return found


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_after_many_others_has_the_figures_that_it_has_alone(name: str) -> None:
    document = read_document((DEMO / f"records/{name}.toml").read_bytes(), f"records/{name}.toml")
    record = document.model
    assert isinstance(record, Record)
    cell = cell_of(record.record.cell)
    for address in ("fingers.blank.friction", "lot.machining_seconds", "tray.pitch_across"):
        tree = grow(document.values)
        take_out(tree, address)
        all_figures(Facts(Record.model_validate(tree), cell, POLICY))  # with what it misses
        tree = grow(document.values)
        put(tree, address, Decimal("0.17") if "friction" in address else Decimal(120))
        all_figures(Facts(Record.model_validate(tree), cell, POLICY))
    alone = all_figures(Facts(record, cell_of(record.record.cell), POLICY))
    assert all_figures(Facts(record, cell, POLICY)) == alone


def test_cells_do_not_share_what_is_kept() -> None:
    one, other = (cell_of("east-lathe") for _ in range(2))
    found = read("records/seal-carrier-op20.toml")
    assert isinstance(found, Record)
    calls: list[int] = []

    def work() -> int:
        calls.append(1)
        return len(calls)

    assert [Facts(found, c, POLICY).once_per_cell("t", work) for c in (one, one, other, one)] == [
        *(1, 1, 2),
        1,
    ]


def test_what_is_missing_of_a_cell_is_missing_each_time() -> None:
    found = read("records/seal-carrier-op20.toml")
    assert isinstance(found, Record)
    cell = cell_of("east-lathe")

    def work() -> int:
        raise Missing("cell:bed.path")

    for _ in range(2):
        with pytest.raises(Missing, match=r"cell:bed\.path"):
            Facts(found, cell, POLICY).once_per_cell("missing", work)


def test_without_a_cell_nothing_of_a_cell_is_told() -> None:
    found = read("records/seal-carrier-op20.toml")
    assert isinstance(found, Record)
    with pytest.raises(Missing, match=r"cell:times\.door"):
        Facts(found, None, POLICY).number("cell:times.door")
