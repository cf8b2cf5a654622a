"""Boxes that met say `ink-7` of the same ink, and so does one that reads all of it at once."""

from __future__ import annotations

from tests.mini_book import SEAT
from tests.shop_floor import ink


def test_two_boxes_and_a_fresh_look_name_the_same_inks(two, shop):
    mira, ole = two
    for n in range(3):
        for book, address in ((ole, "lot.quantity"), (mira, "tools.T04.stick_out")):
            ink(book, SEAT, "as measured", **{address: str(60 + n)})
            book.document(SEAT).past.marks()  # what is there is read now
        for book in (ole, mira, ole) if n % 2 else (mira, ole, mira):
            book.sync()
    named = [_inks(book) for book in (mira, ole, shop.box("three", "ada"))]
    assert len(named[0]) == 10  # the first, six of people, three that merged the text
    assert named[0] == named[1] == named[2]
    traced = [_trace(book) for book in (mira, ole, shop.box("three", "ada"))]
    assert traced[0] == traced[1] == traced[2]


def _inks(book):
    marks = book.document(SEAT).past.marks()
    return {mark.name: mark.commit for mark in marks if mark.kind == "ink"}


def _trace(book):
    return [item.commit for item in book.document(SEAT).past.trace("lot")]
