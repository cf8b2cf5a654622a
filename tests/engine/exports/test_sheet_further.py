"""Every value that a record can hold stands somewhere on its sheet; common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from engine.book import Book
from schemas.address import flatten, grow, put, show
from schemas.document import check_tree
from schemas.fields import Described, fields_of
from schemas.record import Record
from tests.engine.exports import readers
from tests.mini_book import SEAT, plain_git

KEYS = {"fingers": "blank", "positions": "seat", "approach": "seat", "offsets": "G57",
        "tools": "T83", "photos": "jaws", "tray": "r2c3"}  # fmt: skip
GIVEN = {"record.id", "record.cell", "record.units", "format", "photos.*.file", "program.file"}


def _value(described: Described, n: int) -> Any:
    if described.choices:
        return described.choices[-1]
    made = {"text": f"word{n}", "number": Decimal(f"{n}.625"), "whole": 3000 + n, "yes/no": True}
    if described.address.endswith("sha256"):
        return f"{n:064d}"
    if described.kind == "list":
        if described.address == "tray.unused":
            return ["r7c9"]
        return [Decimal(f"{n}.125"), Decimal(f"{n}.875")]
    return made[described.kind]


def _full(tree: dict[str, Any]) -> dict[str, Any]:
    """The tree with a value of its own at every describable address."""
    for n, described in enumerate(fields_of(Record), 201):
        if described.address in GIVEN:
            continue
        section = described.address.partition(".")[0]
        axis = "x" if section == "offsets" else "reach"
        address = described.address.replace("*", KEYS.get(section, ""), 1).replace("*", axis)
        put(tree, address, _value(described, n))
    return tree


def test_no_value_of_a_record_is_left_out(folder: Path, at: Callable[[str], Book]) -> None:
    path = f"records/{SEAT}.toml"
    document = check_tree(_full(grow(at("mira").document(SEAT).values())), path)
    (folder / path).write_bytes(document.bytes)
    plain_git(folder, "commit", "-qam", "full")
    pages = readers.page_texts(at("mira").document(SEAT).papers.sheet().data)
    text = re.sub(r"\s+", " ", " ".join(pages)).lower()
    missing = []
    for address, value in flatten(document.tree).items():
        items = value if isinstance(value, list) else [value]
        said = [show(item).lower() for item in items]
        if not all(s in text or s.replace("_", " ") in text for s in said):
            missing.append((address, said))
    assert missing == []
