"""Values of the record that no page has a place for: a plain list, so that none is left out.

A field that is new, or of a kind of job that the pages were not drawn for, stands here
by its address with its unit, from the day on which it is in the record.
"""

from __future__ import annotations

from engine.exports.page import EDGE, ROOM, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import heading
from engine.exports.values import entry

_IN_THE_HEAD = (
    "format", "record.id", "record.part", "record.drawing", "record.revision",
    "record.operation", "record.cell", "record.units",
)  # fmt: skip
_DRAWN = ("lot.stages", "notes.text")  # as boxes to tick, and as a text of their own
_TALL, _SIZE, _ABREAST = 4.4, 8.5, 3
_WIDE = ROOM / _ABREAST - 3


def draw(page: PaperPage, set_up: SetUp) -> None:
    """Draw it, after all pages that place values of their own."""
    known = dict.fromkeys([*set_up.inked, *set_up.pencil])
    left = [a for a in known if a not in {*set_up.placed, *_IN_THE_HEAD, *_DRAWN}]
    if not left:
        return
    page.need(8.6 + 2 * _TALL)
    heading(page, "Further values", "by their addresses")
    abreast: list[str] = []
    for address in left:
        one = entry(set_up, address, address)
        words = f"{address}  {one.ink}{f'  (pencil {one.pencil})' if one.pencil else ''}"
        if page.width(words, _SIZE) > _WIDE:
            _row(page, abreast)
            abreast = []
            page.need(page.tall(words, _SIZE, width=ROOM))
            page.y += page.paragraph(EDGE, page.y, words, _SIZE, width=ROOM) + 0.4
            continue
        abreast.append(words)
        if len(abreast) == _ABREAST:
            _row(page, abreast)
            abreast = []
    _row(page, abreast)
    page.y += 2


def _row(page: PaperPage, abreast: list[str]) -> None:
    """Short ones beside each other."""
    if abreast:
        page.need(_TALL)
        for n, words in enumerate(abreast):
            page.text(EDGE + n * (_WIDE + 3), page.y, words, _SIZE, width=_WIDE)
        page.y += _TALL
