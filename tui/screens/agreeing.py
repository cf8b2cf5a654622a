"""What taught positions say about each other, as a table.

Invariant: a difference is taught minus expected, in the axis' unit; what nobody
taught says so, and is no fault.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from engine.views.wording import figures as wording
from engine.views.wording import signed, value_words, with_unit
from schemas.errors import WitnessmarkError
from tui.safe import fit, wrap

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Expected


def agreement_lines(book: Book, name: str, at: str, width: int) -> list[str]:
    """What is left over between positions, what is expected of each, and the tray's fit."""
    lines = ["Taught minus expected, within one place:", *_left_over(book, name, at), ""]
    found = book.document(name).derived.expected()
    if found:
        lines.append("Positions that follow from the first one taught (your pencil counted):")
        lines.append(_row("position", "taught", "expected", "differs by"))
        lines += [_expected(each) for each in found]
    else:
        lines += wrap("No position follows from another: teach one of each place first.", width)
    return [*lines, "", *_tray(book, name, width)]


def _left_over(book: Book, name: str, at: str) -> Iterator[str]:
    figures = [f for f in book.document(name).figures.all(at) if f.group == "agreement"]
    for f in figures:
        if f.missing:
            yield f"  {fit(f.at or f.name, 27)} cannot tell: {', '.join(f.missing)}"
        else:
            value = fit(wording.with_unit(f.value, f.unit), 11, right=True)
            yield f"  {fit(f.at or f.name, 27)} {value}  {fit(wording.against(f), 17)} {f.verdict}"
    if not figures:
        yield "  nothing to compare: no place is taught twice"


def _row(*cells: str) -> str:
    place, *numbers = cells
    return f"  {fit(place, 27)}" + "".join(fit(each, 15, right=True) for each in numbers)


def _expected(each: Expected) -> str:
    place = each.address.removeprefix("positions.")
    if each.taught is None:
        return _row(place, "not taught", with_unit(each.value, each.unit), "")
    expected = with_unit(each.value, each.unit)
    return _row(place, value_words(each.taught), expected, signed(each.off))


def _tray(book: Book, name: str, width: int) -> list[str]:
    """What taught pockets say about the grid, or why they say nothing."""
    try:
        found = book.document(name).derived.tray_fit()
    except WitnessmarkError as error:
        return wrap(f"Tray: {error}", width)
    return wrap(f"Tray by its taught pockets: {found.verdict}; {found.words}", width)
