"""A valid little book, made by program: one lathe, one mill, two records, three people.

Mira is a setter, Ole a lead, Ada an auditor; each login bears its person's key.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from engine.book import Book
from engine.book.session import Session
from schemas.document import check_tree
from tests.shop_floor import START, Clock, Stepping, plain_git

__all__ = [
    "BUSH",
    "BUSH_ID",
    "SEAT",
    "SEAT_ID",
    "START",
    "Stepping",
    "axis",
    "cell_tree",
    "files",
    "found",
    "picture",
    "plain_git",
    "record_tree",
    "session_of",
]

SEAT, BUSH = "seat-op10", "bush-op20"
SEAT_ID, BUSH_ID = "wm-seat10", "wm-bush20"


def picture(shade: int = 0) -> bytes:
    """A tiny JPEG; another shade gives other bytes."""
    from PIL import Image

    held = io.BytesIO()
    Image.new("L", (8, 8), shade).save(held, "JPEG")
    return held.getvalue()


def axis(of: str = "loader", kind: str = "linear", unit: str = "mm") -> dict[str, object]:
    return {
        "of": of,
        "kind": kind,
        "unit": unit,
        "least": -500,
        "most": 1000,
        "speed": 600,
        "acceleration": 2000,
    }


def cell_tree(name: str) -> dict[str, object]:
    stations = {
        "fetch": {
            "place": "tray",
            "does": "take",
            "gripper": "one",
            "axes": ["reach", "lift"],
            "over_tray": True,
        },
        "seat": {
            "place": "jaws",
            "does": "give",
            "gripper": "one",
            "axes": ["swing", "reach", "lift"],
        },
    }
    return {
        "format": 1,
        "cell": {
            "name": name,
            "axes": ["swing", "reach", "lift"],
            "round": ["fetch", "seat"],
            "ends_tended": ["M30"],
            "ends_attended": ["M2"],
        },
        "axes": {"lift": axis(), "reach": axis(), "swing": axis(kind="rotary", unit="deg")},
        "grippers": {"one": {"carries": "both", "mass": 2}},
        "stations": stations,
        "legs": {"fetch_seat": {"start": "fetch", "end": "seat", "path": "free"}},
    }


def record_tree(identity: str, cell: str, part: str, program: str) -> dict[str, object]:
    return {
        "format": 2,
        "record": {"id": identity, "part": part, "operation": 10, "cell": cell, "units": "mm"},
        "program": {"file": f"programs/{program}.nc"},
        "offsets": {"G54": {"z": Decimal("-118.42")}},
        "tools": {"T04": {"what": "boring bar 16", "stick_out": Decimal("62.0")}},
        "jaws": {"id": "C-31", "kept_at": "rack 4", "bite": Decimal("7.5"), "clamp_pressure": 17},
        "blank": {
            "shape": "round",
            "diameter": [Decimal("71.6"), Decimal("72.4")],
            "height": Decimal("31.5"),
        },
        "part": {"shape": "round", "height": Decimal("29.8"), "held": Decimal("64.0")},
        "fingers": {"blank": {"id": "V-12", "bite": Decimal("11.0"), "force": 320}},
        "photos": {"jaws": {"file": f"photos/{program}-jaws.jpg", "shows": "jaws"}},
        "tray": {
            "plate": "TP-72",
            "pitch_across": Decimal("87.5"),
            "across": 11,
            "along": 5,
            "unused": ["r5c11"],
        },
        "positions": {
            "fetch": {"reach": Decimal("210.000"), "lift": Decimal("90.500")},
            "seat": {
                "swing": Decimal("87.420"),
                "reach": Decimal("612.350"),
                "lift": Decimal("148.900"),
            },
        },
        "approach": {"seat": {"length": Decimal("18.0"), "speed": Decimal("55.0")}},
        "lot": {"quantity": 110, "machining_seconds": 203, "stages": [15, 40, 75, 100]},
        "notes": {"text": "Wipe the jaws first."},
    }


def files() -> dict[str, bytes]:
    """All files of the book by path."""
    people = {
        "mira": {"name": "Mira Falk", "roles": ["setter"], "logins": ["mira"]},
        "ole": {"name": "Ole Brandt", "roles": ["setter", "lead"], "logins": ["ole"]},
        "ada": {"name": "Ada Quist", "roles": ["auditor"], "logins": ["ada"]},
    }
    book = {
        "format": 1,
        "book": {"name": "Little shop", "id": "little"},
        "policy": {"reason_for": ["positions.*", "jaws.bite"]},
    }
    trees: Mapping[str, Mapping[str, object]] = {
        "book.toml": book,
        "people.toml": {"format": 1, "people": people},
        "cells/lathe.toml": cell_tree("Lathe"),
        "cells/mill.toml": cell_tree("Mill"),
        f"records/{SEAT}.toml": record_tree(SEAT_ID, "lathe", "Seat", "seat"),
        f"records/{BUSH}.toml": record_tree(BUSH_ID, "mill", "Bush", "bush"),
    }
    made = {path: check_tree(tree, path).bytes for path, tree in trees.items()}
    for n, program in enumerate(("seat", "bush")):
        made[f"programs/{program}.nc"] = f"O{n}\nG0 X0\nM30\n".encode()
        made[f"photos/{program}-jaws.jpg"] = picture(n)
    return made


def found(folder: Path, clock: Clock | None = None) -> Path:
    """Write the files into a folder and start the book there, as Ole."""
    for path, data in files().items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    Book.start(folder, login="ole", name="Little shop", clock=clock or Stepping()).close()
    return folder


def session_of(book: Book) -> Session:
    """What stands behind a book, for a look beneath it: git, history, the head."""
    return book.document("book").held().session
