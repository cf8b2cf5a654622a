"""All figures of one record under a key press: median, and what it is beside the model alone.

Run `python tests/benchmarks/bench_figures.py [RECORD...]`. One value in the
record's tree is set anew (no two times the same), the tree becomes a model, and
all figures are worked out with the cell that stays. Says numbers, judges nothing.
A tray of 9 x 4 pockets is put into the record first.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import cast

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from engine.figures import all_figures  # noqa: E402
from engine.figures.inputs import Facts  # noqa: E402
from schemas.address import Tree, grow, put  # noqa: E402
from schemas.book import BookFile  # noqa: E402
from schemas.cell import Cell  # noqa: E402
from schemas.document import Document, read_document  # noqa: E402
from schemas.record import Record  # noqa: E402

ROUNDS = 300
RECORDS = ("seal-carrier-op20", "bearing-foot-op10", "lever-yoke-op10")
KEYS = ("jaws.bite", "tray.pitch_across")  # one that moves nothing, one that moves every leg


def read(path: str) -> Document:
    """A document of the demo book."""
    return read_document((ROOT / "demo_jobs" / path).read_bytes(), path)


def press(tree: Tree, address: str, work: Callable[[Record], object]) -> list[float]:
    """Milliseconds of each round: a value set, a model made, the work done."""
    taken = []
    base = cast("Decimal", _value(tree, address))
    for number in range(ROUNDS):
        begins = time.perf_counter()
        put(tree, address, base + Decimal(number + 1) / 10000)
        work(Record.model_validate(tree))
        taken.append((time.perf_counter() - begins) * 1000)
    put(tree, address, base)
    return taken


def _value(tree: Tree, address: str) -> object:
    found: object = tree
    for key in address.split("."):
        found = cast("Tree", found)[key]
    return found


def main(names: tuple[str, ...]) -> None:
    """Print one line for each record and key."""
    policy = cast("BookFile", read("book.toml").model).policy
    print("record, key: figures; median ms (fastest), of that the model alone; ratio")
    for name in names:
        document = read(f"records/{name}.toml")
        record = cast("Record", document.model)
        cell = cast("Cell", read(f"cells/{record.record.cell}.toml").model)
        tree = grow(document.values)
        put(tree, "tray.across", 9)
        put(tree, "tray.along", 4)
        count = len(all_figures(Facts(Record.model_validate(tree), cell, policy)))
        for key in KEYS:
            alone = press(tree, key, lambda record: record)
            whole = press(
                tree, key, lambda record, cell=cell: all_figures(Facts(record, cell, policy))
            )  # type: ignore[misc]
            middle, model = statistics.median(whole), statistics.median(alone)
            print(
                f"{name}, {key}: {count}; {middle:.2f} ({min(whole):.2f}), {model:.2f}; "
                f"{middle / model:.1f} x the model"
            )


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or RECORDS)
