"""Tray plates as SVG, read by the XML parser: true size, the same geometry as the DXF."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from engine.book import Book
from tests.engine.exports import readers
from tests.engine.exports.conftest import BLOCKS
from tests.mini_book import SEAT

Inked = Callable[..., Book]


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_unit_of_the_picture_is_one_of_the_plate(inked: Inked, units: str) -> None:
    root = readers.svg(
        inked(record={"record.units": units}).document(SEAT).papers.plate("svg").data
    )
    left, top, wide, deep = map(float, (root.get("viewBox") or "").split())
    assert root.get("width") == f"{wide:g}{units}"
    assert root.get("height") == f"{deep:g}{units}"
    (path,) = readers.group(root, "OUTSIDE")
    x0, y0, x1, y1 = readers.box(readers.corners(path.get("d") or ""))
    assert (x1 - x0, y1 - y0) == pytest.approx((408, 291))
    assert left < x0 < x1 < left + wide
    assert top < y0 < y1 < top + deep
    assert not [e for e in root.iter() if e.get("transform")]


def test_the_same_pockets_as_in_the_dxf(inked: Inked) -> None:
    book = inked()
    root = readers.svg(book.document(SEAT).papers.plate("svg", kerf="0.2").data)
    drawn = [
        (float(c.get("cx") or 0), 291 - float(c.get("cy") or 0), float(c.get("r") or 0))
        for c in readers.group(root, "POCKETS")
    ]
    assert drawn == [
        pytest.approx(c)
        for c in readers.circles(
            book.document(SEAT).papers.plate("dxf", kerf="0.2").data, "POCKETS"
        )
    ]


def test_arcs_turn_the_right_way(inked: Inked) -> None:
    """Anticlockwise in the plate is so in the picture too: sweep 0 (SVG 1.1, 8.3.8)."""
    book = inked(record=BLOCKS)
    root = readers.svg(book.document(SEAT).papers.plate("svg", relief="3", kerf="0.4").data)
    path = readers.group(root, "POCKETS")[0].get("d") or ""
    arcs = [word.split() for word in path.split("A")[1:]]
    halves = [arc for arc in arcs if float(arc[0]) > 1]
    edges = [arc for arc in arcs if float(arc[0]) < 1]
    assert [(float(a[0]), a[4]) for a in halves] == [(pytest.approx(2.8), "0")] * 4
    assert [(float(a[0]), a[4]) for a in edges] == [(pytest.approx(0.2), "1")] * 8
    nominal = readers.box(readers.corners(path))
    assert nominal == pytest.approx((30.2, 291 - 89.8, 89.8, 291 - 20.2), abs=0.5)


def test_foreign_text_is_escaped(inked: Inked) -> None:
    book = inked(
        record={"tray.plate": '</text><script>alert("x")</script>', "record.drawing": "漢&"}
    )
    root = readers.svg(book.document(SEAT).papers.plate("svg").data)
    assert not list(root.iter(f"{readers.SVG}script"))
    said = [t.text or "" for t in readers.group(root, "ENGRAVE").iter(f"{readers.SVG}text")]
    assert any('</text><script>alert("x")</script> 漢&' in text for text in said)
    assert {"r1c1", "r3c4"} <= set(said)


def test_crossed_where_not_loaded(inked: Inked) -> None:
    root = readers.svg(inked().document(SEAT).papers.plate("svg").data)
    notes = readers.group(root, "NOTES")
    assert len(list(notes.iter(f"{readers.SVG}path"))) == 2
    assert [t.text for t in notes.iter(f"{readers.SVG}text")] == ["not loaded"]
