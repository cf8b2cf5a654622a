"""What lies in the book's folder and was never inked: links, pipes, garbage, odd names."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from tests.campaigns.hostile.input import Input, Room
from tests.campaigns.hostile.repositories import SHAPES, clear

NAME = "work trees"
PLACES = ("book.toml", "people.toml", "cells/lathe.toml", "cells", "records/seat-op10.toml",
"records/new.toml",
          "records", "programs/seat.nc", "programs", "photos/seat-jaws.jpg", "runs", "events",
          "signoffs",
          "records/.seat-op10.toml.1a2b3c4d", ".gitignore", ".gitmodules",
          "records/new/inner.toml")  # fmt: skip
NAMES = (b"records/caf\xe9.toml", b"records/a\nb.toml", b"records/-x.toml", b"records/\x1b[2J.toml",
         b"records/SEAT-OP10.toml", b"cells/\xff.toml", b"programs/a\nb.nc",
         b"records/" + b"x" * 240 + b".toml")  # fmt: skip


def inputs() -> Iterator[Input]:
    """Each place in each shape; files with odd names; a folder that everybody may write to."""
    for place in PLACES:
        for shape, lay in SHAPES.items():
            yield Input(NAME, f"{place} is {shape}", partial(_shaped, place, lay))
    for name in NAMES:
        yield Input(NAME, f"there is {name!r}"[:80], partial(_named, name))
    for mode in (0o777, 0o500, 0o000):
        yield Input(NAME, f"records with mode {mode:o}", partial(_mode, mode))


def _shaped(place: str, lay, room: Room) -> None:
    clear(room, place)
    lay(room, place)


def _named(name: bytes, room: Room) -> None:
    target = Path(os.fsdecode(os.fsencode(room.book) + b"/" + name))
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(
        (room.book / "records/seat-op10.toml").read_bytes().replace(b"wm-seat10", b"wm-other1")
    )


def _mode(mode: int, room: Room) -> None:
    (room.book / "records").chmod(mode)
