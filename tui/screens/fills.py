"""When the tray runs empty, by the clock, as a table.

Invariant: moments are the engine's, for a lot that begins now; nothing here looks
at a machine or counts how far a lot has come.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.errors import WitnessmarkError
from tui.safe import fit, wrap
from tui.screens.words import count

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Filled

_WIDTHS = (6, 8, 16, 16, 16)


def fill_lines(book: Book, name: str, width: int) -> list[str]:
    """Each fill of the lot as inked, or what is missing to tell."""
    begin = book.now()
    try:
        fills = book.refills(name, begin)
    except WitnessmarkError as error:
        return wrap(f"{error}. {error.hint}", width)
    if not fills:
        return ["The lot needs no fill."]
    blanks = sum(f.blanks for f in fills)
    lead = f"If a lot of {count(blanks, 'blank')} began now and ran at full speed, as inked:"
    head = _row("fill", "blanks", "begins", "tray empty", "last part out")
    last = "Time for refilling, jams and tool changes comes on top."
    return [*wrap(lead, width), "", head, *map(_fill, fills), "", *wrap(last, width)]


def _fill(each: Filled) -> str:
    moments = (f"{when:%Y-%m-%d %H:%M}" for when in (each.begins, each.empty, each.done))
    return _row(str(each.number), str(each.blanks), *moments)


def _row(*cells: str) -> str:
    pairs = zip(cells, _WIDTHS, strict=True)
    return "  ".join(fit(cell, room, right=n < 2) for n, (cell, room) in enumerate(pairs)).rstrip()
