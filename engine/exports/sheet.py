"""The set-up sheet: what goes on the machine first, then what is put in and proved.

One revision, named on every page with its state; a figure or a value that is
not there is said to be missing, never left out. Positions and tools are never
cut short: a record with many of them takes a page more.
"""

from __future__ import annotations

from engine.exports import front, further, machine_page, proving, values_page
from engine.exports.page import EDGE, RIGHT, ROOM, TALL, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import sentence
from engine.exports.pictures import squares
from engine.views.wording import moment

SAFETY = (
    "This sheet records a set-up; it is no safety device and certifies nothing. "
    "Local rules and licensed practice come first."
)
_CODE = 30.0  # mm


def to_pdf(set_up: SetUp) -> bytes:
    """The bytes of the sheet. Drawn twice: the first time to know how many pages it takes."""
    pages = _drawn(set_up, 0).number
    stamp = set_up.stamp
    title = f"{stamp.document} {stamp.ink} {stamp.short}"
    return _drawn(set_up, pages).finish(title, stamp.printed)


def _drawn(set_up: SetUp, pages: int) -> PaperPage:
    set_up.placed.clear()
    page = PaperPage(lambda page: _head(page, set_up), lambda page: _foot(page, set_up, pages))
    front.draw(page, set_up)
    values_page.draw(page, set_up)
    machine_page.draw(page, set_up)
    proving.draw(page, set_up)
    further.draw(page, set_up)
    return page


def _head(page: PaperPage, set_up: SetUp) -> None:
    if page.number == 1:
        _first_head(page, set_up)
    else:
        stamp, header = set_up.stamp, set_up.record.record
        operation = f" · op {header.operation}" if header.operation is not None else ""
        named = f"{header.part}{operation} · {_cell(set_up)}"
        page.text(EDGE, page.y, named, 15, "B", width=ROOM * 0.5)
        words = f"{stamp.document} · {stamp.ink} · {stamp.short}"
        page.text(EDGE + ROOM * 0.52, page.y + 1, words, 11, width=ROOM * 0.48, align="R")
        page.y += 8.5
    _bands(page, set_up)


def _first_head(page: PaperPage, set_up: SetUp) -> None:
    stamp, header = set_up.stamp, set_up.record.record
    width = ROOM - _CODE - 4
    top = page.y
    page.text(EDGE, top - 1.5, header.part, 26, "B", width=width)
    drawing = " ".join(filter(None, (header.drawing, header.revision and f"rev {header.revision}")))
    operation = f"operation {header.operation}" if header.operation is not None else ""
    job = " · ".join(filter(None, (drawing, operation, _cell(set_up))))
    page.text(EDGE, top + 10, job, 15, "B", width=width)
    revision = f"{stamp.document} · {stamp.ink} · {stamp.short}"
    page.text(EDGE, top + 18, revision, 12, "B", width=width)
    page.text(EDGE, top + 23.5, f"inked {moment(stamp.when)} by {stamp.who}", 10.5,
              width=width)  # fmt: skip
    units = "inches" if header.units == "in" else "mm"
    told = f"Book {stamp.book}. Lengths in {units} where no unit stands; axes in their own."
    page.text(EDGE, top + 28.5, told, 9, width=width)
    _code(page, RIGHT - _CODE, top - 1, stamp.claim)
    page.y = top + 34


def _cell(set_up: SetUp) -> str:
    cell = set_up.facts.cell
    return cell.cell.name if cell else set_up.record.record.cell


def _code(page: PaperPage, x: float, y: float, claim: str) -> None:
    rows = squares(claim)
    side = _CODE / len(rows)
    for r, row in enumerate(rows):
        for c, dark in enumerate(row):
            if dark:  # a hair larger, so that no printer leaves seams
                page.solid(x + c * side, y + r * side, side + 0.02, side + 0.02)
    page.text(x - 8, y + _CODE + 0.6, "Scan: is this sheet current?", 7.5, width=_CODE + 8,
              align="R")  # fmt: skip


def _bands(page: PaperPage, set_up: SetUp) -> None:
    """What nobody may overlook, on every page: white on black, or framed."""
    stamp = set_up.stamp
    for words in filter(None, (stamp.superseded, stamp.pencil)):
        page.solid(EDGE, page.y, ROOM, 8)
        page.text(EDGE + 2, page.y + 1.2, sentence(words), 14, "B", width=ROOM - 4,
                  white=True)  # fmt: skip
        page.y += 9.5
    if page.number > 1:
        return
    page.box(EDGE, page.y, ROOM, 12.5, 0.5 if stamp.accepted else 0.25)
    page.text(EDGE + 2, page.y + 0.9, sentence(stamp.signed), 12, "B", width=ROOM - 4)
    page.text(EDGE + 2, page.y + 6.9, sentence(stamp.confirmed), 10, width=ROOM - 4)
    page.y += 15
    if stamp.others:
        page.text(EDGE + 2, page.y - 1, sentence(stamp.others), 9, "B", width=ROOM - 4)
        page.y += 4.5


def _foot(page: PaperPage, set_up: SetUp, pages: int) -> None:
    stamp, y = set_up.stamp, TALL - 17
    page.rule(EDGE, y, RIGHT, y)
    page.text(EDGE, y + 1, SAFETY, 8, "B", width=ROOM)
    told = f"printed {moment(stamp.printed)}; witnessmark show {stamp.key} --at {stamp.short}"
    page.text(EDGE, y + 5, told, 8, width=ROOM - 30)
    page.text(RIGHT - 30, y + 5, f"page {page.number} of {pages}", 8, "B", width=30, align="R")
