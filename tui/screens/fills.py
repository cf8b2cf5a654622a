"""When the tray runs empty, by the clock, as a table.

Invariant: moments are the engine's, for a lot that begins now; nothing here looks
at a machine or counts how far a lot has come.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from engine.views.wording import clock_times, count
from schemas.errors import WitnessmarkError
from tui.safe import fit, wrap

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Filled


def fill_lines(book: Book, name: str, width: int) -> list[str]:
    """Each fill of the lot as inked, or what is missing to tell."""
    begin = book.now()
    try:
        fills = book.document(name).figures.refills(begin)
    except WitnessmarkError as error:
        return wrap(f"{error}. {error.hint}", width)
    if not fills:
        return ["No quantity is ordered: nothing to load."]
    blanks = sum(f.blanks for f in fills)
    lead = f"If a lot of {count(blanks, 'blank')} began now and ran at full speed, as inked:"
    times = clock_times(when for f in fills for when in (f.begins, f.empty, f.done))
    last = "Time for refilling, jams and tool changes is not included."
    return [*wrap(lead, width), "", *_table(fills, times, width), "", *wrap(last, width)]


def _table(fills: Sequence[Filled], times: Sequence[str], width: int) -> list[str]:
    """Headings and one row for each fill; closer together where the times have their offset."""
    room = max(map(len, times))
    gap = "  " if 4 + 6 + 3 * room + 4 * 2 <= width else " "

    def row(*cells: str) -> str:
        pairs = enumerate(zip(cells, (4, 6, room, room, room), strict=True))
        return gap.join(fit(cell, wide, right=n < 2) for n, (cell, wide) in pairs).rstrip()

    rows = [row("fill", "blanks", "begins", "tray empty", "last part out")]
    for n, each in enumerate(fills):
        rows.append(row(str(each.number), str(each.blanks), *times[3 * n : 3 * n + 3]))
    return rows
