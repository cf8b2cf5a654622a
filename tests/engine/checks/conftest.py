"""A small book that has nothing wrong with it, made anew for each test.

A test breaks one thing in it, before it begins (`trees`, `files`) or after
(`write`, `by_hand`, the book's own acts), and looks at the findings.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from engine.book import Book
from engine.views import Finding
from schemas.toml import write_toml
from tests.shop_floor import Clock, Opener, edit, plain_git

NOON = datetime.fromisoformat("2026-03-02T12:00:00+01:00")
ONE, TWO = "cup-op10", "cup-op20"
INCOMPLETE = ("cell-incomplete", "figure-cannot-tell", "policy-incomplete")
PROGRAM = b"%\nN10 G21 G90\nN20 S1200 M3\nN30 G1 X10. F200\nN40 M30\n%\n"


def picture(shade: int = 90, size: tuple[int, int] = (32, 24), kind: str = "JPEG") -> bytes:
    """A tiny picture."""
    data = io.BytesIO()
    Image.new("RGB", size, (shade, shade, 40)).save(data, kind)
    return data.getvalue()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _cell() -> dict[str, Any]:
    linear = {"of": "loader", "kind": "linear", "unit": "mm", "least": 0, "most": 500}
    return {
        "format": 1,
        "cell": {
            "name": "North lathe",
            "axes": ["reach", "lift"],
            "round": ["fetch", "seat"],
            "ends_tended": ["M30", "M99"],
            "ends_attended": ["M2"],
        },
        "axes": {"reach": dict(linear), "lift": dict(linear)},
        "grippers": {"one": {"carries": "both", "turned_by": None}},
        "bed": {"up_axis": "lift"},
        "stations": {
            "fetch": {"place": "tray", "does": "take", "gripper": "one", "axes": ["reach", "lift"]},
            "seat": {"place": "jaws", "does": "give", "gripper": "one", "axes": ["reach", "lift"]},
        },
        "legs": {"out": {"start": "fetch", "end": "seat", "moves": ["lift", "reach+lift"]}},
    }


def _record(number: int, program: bytes, photo: bytes) -> dict[str, Any]:
    return {
        "format": 2,
        "record": {
            "id": f"wm-aaaaa{number}",
            "part": "Cup",
            "cell": "north",
            "units": "mm",
        },
        "program": {
            "file": f"programs/cup_{number}.nc",
            "sha256": sha(program),
            "spindle_top": 1200,
        },
        "jaws": {"id": "J-1", "kept_at": "rack 1", "bite": Decimal("7.5"), "clamp_pressure": 17},
        "photos": {"jaws": {"file": f"photos/jaws_{number}.jpg", "sha256": sha(photo)}},
        "positions": {
            "fetch": {"reach": Decimal("120.500"), "lift": Decimal("40.000")},
            "seat": {"reach": Decimal("310.250"), "lift": Decimal("88.000") + number},
        },
        "approach": {"seat": {"length": 18, "speed": 50}},
        "lot": {"stages": [12, 40, 75, 100]},
    }


class Mini:
    """A small book: one cell, two people, two records with a program and a photo each."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.clock = Clock(NOON)
        self.opener = Opener(folder, self.clock)
        self.files: dict[str, bytes] = {}
        self.trees: dict[str, dict[str, Any]] = {
            "book.toml": {
                "format": 1,
                "book": {"name": "Small works", "id": "small"},
                "policy": {"stale_pencil_days": 3},
            },
            "people.toml": {
                "format": 1,
                "people": {
                    "ana": {"name": "Ana Lind", "roles": ["setter", "lead"], "logins": ["alin"]},
                    "bo": {"name": "Bo Ferrer", "roles": ["setter"], "logins": ["bfer"]},
                },
            },
            "cells/north.toml": _cell(),
        }
        for number, name in ((1, ONE), (2, TWO)):
            program, photo = PROGRAM + b"" * number, picture(50 * number)
            self.files[f"programs/cup_{number}.nc"] = program
            self.files[f"photos/jaws_{number}.jpg"] = photo
            self.trees[f"records/{name}.toml"] = _record(number, program, photo)
        self.trees["cells/north.toml"]["grippers"]["one"].pop("turned_by")
        self.also_incomplete = False  # True: what is missing for figures is of interest, too
        self.may_fail = False  # True: a rule that the test itself breaks
        self.login = True  # False: the login does not tell that it is Ana
        self._book: Book | None = None

    @property
    def one(self) -> dict[str, Any]:
        """The first record, to be broken before the book begins."""
        return self.trees[f"records/{ONE}.toml"]

    @property
    def cell(self) -> dict[str, Any]:
        return self.trees["cells/north.toml"]

    @property
    def people(self) -> dict[str, Any]:
        people: dict[str, Any] = self.trees["people.toml"]["people"]
        return people

    def go(self, **span: float) -> None:
        self.clock.go(**span)

    def write(self, path: str, data: bytes) -> None:
        """Write a file of the work tree, behind the program's back."""
        target = self.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)

    def edit(self, path: str, old: str, new: str) -> None:
        """Change a file's text on disk."""
        edit(self.folder, path, old, new)

    @property
    def book(self) -> Book:
        """The book, begun at the first use by Ana."""
        if self._book is None:
            for path, tree in self.trees.items():
                self.write(path, write_toml(tree))
            for path, data in self.files.items():
                self.write(path, data)
            login, person = ("alin", "" if self.login else "ana")
            self._book = Book.start(self.folder, as_person=person, login=login, clock=self.clock)
        return self._book

    def as_bo(self) -> Book:
        """The same book with Bo in front of it."""
        assert self.book
        return self.opener("bfer")

    def by_hand(self) -> None:
        """Commit the work tree with plain git."""
        plain_git(self.folder, "add", "-A")
        plain_git(self.folder, "commit", "-q", "-m", "by hand", when=self.clock())

    def findings(self, *names: str, also_incomplete: bool = False) -> list[Finding]:
        """Findings; that the small book has not every value for its figures is left out.

        No rule may fall over on the way, but in the one test that lets it.
        """
        quiet = () if also_incomplete or self.also_incomplete else INCOMPLETE
        found = self.book.check(names)
        assert self.may_fail or not [f.message for f in found if f.rule == "rule-failed"]
        return [finding for finding in found if finding.rule not in quiet]

    def close(self) -> None:
        self.opener.close()
        if self._book is not None:
            self._book.close()


@pytest.fixture
def mini(tmp_path: Path) -> Iterator[Mini]:
    """A book with nothing wrong, not begun yet."""
    made = Mini(tmp_path / "book")
    yield made
    made.close()
