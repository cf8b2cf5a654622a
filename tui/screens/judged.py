"""Figures in words and lines: what a change does to them, and how many fit.

Invariant: a verdict is never cut off; where the room is short, the name gives way.
Each verdict stands in words, a colour only repeats it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.cells import cell_len

from engine.views.wording import count
from engine.views.wording import figures as wording
from tui.safe import fit
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.book import DocumentHandle
    from engine.views import Figure, FigureChange

CAUTION = "Figures warn, they certify nothing: friction tables mislead, wet parts slip."
RECORDS = "This program records; it is no safety device."
PROVE = "Prove out slowly and without a blank first. This program is no safety device."
_STYLES = {"does not fit": "error", "tight": "warning", "cannot tell": "warning"}
_BEFORE = {
    "fits": ", fitted before",
    "tight": ", was tight",
    "does not fit": ", did not before",
    "cannot tell": ", could not be told",
    "not there": ", is new",
}
_SHORTEST = 20  # cells of a name that is cut
_NAME = 40  # cells of the name where the page is 80 wide


def style_of(verdict: str) -> str:
    """The colour that repeats a verdict."""
    return _STYLES.get(verdict, "")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What my pencil on a record does to its figures, and how many fit with it."""

    changes: Sequence[FigureChange]
    counts: Sequence[str]  # worst first, in words
    pencil: bool


def outcome_of(document: DocumentHandle) -> Outcome:
    """Ask for both at once; a book without my pencil here answers for what is inked."""
    pencil = document.pencil.draft() is not None
    figures = document.figures.all("pencil" if pencil else "now")
    changes = document.figures.consequences() if pencil else ()
    return Outcome(changes, counted(figures), pencil)


def counted(figures: Sequence[Figure]) -> list[str]:
    """How many figures have which verdict, worst first; those for information left out."""
    return wording.counted([f for f in figures if f.verdict != "for information"])


def outcome_row(outcome: Outcome, width: int) -> StyledRow:
    """The line of the editor: the worst that the pencil does, or how the figures stand."""
    counts = ", ".join(outcome.counts) or "none can be worked out"
    if not outcome.pencil:
        return ((f" figures as inked: {counts}", ""), ("   g", "strong"), (" shows them", ""))
    if not outcome.changes:
        return ((f" figures: your pencil changes none; {counts}", ""),)
    worst, *rest = outcome.changes
    name, values, verdict = _parts(worst)
    said = "" if verdict == "for information" else verdict
    unfit = outcome.counts[0] if "not fit" in counts and verdict != "does not fit" else ""
    still = f"; still {unfit}" if unfit else ""  # did not fit before either
    taken = sum(map(cell_len, (values, said, still))) + 3
    left = len(rest)
    leads = (  # the words give way before the name
        (" your pencil changes: ", f"   +{left} more: g" if left else ""),
        (" pencil: ", f"   +{left} more: g" if left else ""),
        (" ~ ", f"  +{left}: g" if left else ""),
    )
    fitting = (pair for pair in leads if sum(map(len, pair)) + taken + _SHORTEST <= width)
    lead, more = next(fitting, leads[-1])
    room = max(width - len(lead) - taken - len(more), _SHORTEST)
    name = name if cell_len(name) <= room else fit(name, room)
    return (
        (lead, ""),
        (f"{name} {values}{': ' if said else ''}", ""),
        (said, style_of(verdict) or "strong"),
        (f"{still}{more}", ""),
    )


def _parts(change: FigureChange) -> tuple[str, str, str]:
    """Name and place, both values, the new verdict."""
    values = f"{wording.number(change.old, change.unit)} -> "
    values += wording.with_unit(change.new, change.unit)
    return wording.place(change.name, change.at), values, change.new_verdict


def broken(changes: Sequence[FigureChange]) -> int:
    """How many figures fit before and no longer do."""
    return sum(wording.worsened(c) and c.new_verdict == "does not fit" for c in changes)


def broken_words(changes: Sequence[FigureChange]) -> str:
    """The same in words; empty where all fit as before."""
    number = broken(changes)
    return f"{count(number, 'figure')} no longer {'fits' if number == 1 else 'fit'}"


def change_items(changes: Sequence[FigureChange], title: str) -> list[Item]:
    """A heading, and one line for each figure that changes, worst first."""
    if not changes:
        return []
    items = [
        fixed("space before figures", (), heading=True),
        fixed("figures that change", ((f" {title}", "heading"),), heading=True),
    ]
    return items + [Item(("change", c.name, c.at), _drawer(c)) for c in changes]


def _drawer(change: FigureChange) -> Callable[[int], Sequence[StyledRow]]:
    name, values, verdict = _parts(change)
    before = "" if change.old_verdict == verdict else _BEFORE.get(change.old_verdict, "")

    def draw(width: int) -> Sequence[StyledRow]:
        long = cell_len(values) + len(verdict) + 6
        room = max(min(_NAME + (width - 80) // 4, width - long), 12)
        said = f"{verdict}{before}"
        said = said if room + cell_len(values) + len(said) + 6 <= width else verdict
        return [
            (
                (f"  {fit(name, room)}", ""),
                (f"  {values}  ", ""),
                (said, style_of(verdict) or "strong"),
            )
        ]

    return draw
