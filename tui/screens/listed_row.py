"""One line of the book's list, and the words over its columns.

Invariant: what is wrong is said in words, and names of records look the same in every state.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import NOT_YET, age, ago, changed_since_run, count, people_of
from tui.safe import fit
from tui.widgets.paint import StyledRow, StyledText

if TYPE_CHECKING:
    from engine.views import Finding, Listed


def widths(width: int) -> tuple[int, int, int, int, int, int]:
    """Cells for record, part, last run, changed, pencil, findings."""
    spare = max(width - 80, 0)
    return (22 + spare // 6, 12 + spare // 3, 10 + spare // 8, 10, 13 + spare // 6, 11)


def head_row(width: int) -> StyledRow:
    """The words over the columns."""
    titles = ("record", "part", "last run", "since run", "in pencil", "findings")
    pieces: list[StyledText] = [("  ", "")]
    for title, room in zip(titles, widths(width), strict=True):
        pieces.append((fit(title, room - 1) + " ", "strong"))
    return tuple(pieces)


def record_row(
    each: Listed, me: str, now: datetime, findings: Sequence[Finding] | None
) -> Callable[[int], Sequence[StyledRow]]:
    """What draws the line of a record, for a person at a moment, in any width."""

    def draw(width: int) -> Sequence[StyledRow]:
        texts: tuple[StyledText, ...] = (
            (each.record, "strong"),
            (each.part if each.known else NOT_YET, ""),
            (_run(each, now), ""),
            (changed_since_run(each) if each.known else NOT_YET, ""),
            (_pencil(each, me, now, width), "pencil"),
            verdict_of(each, findings),
        )
        pieces: list[StyledText] = [("  ", "")]
        for (text, style), room in zip(texts, widths(width), strict=True):
            pieces.append((fit(text, room - 1) + " ", style))
        return [tuple(pieces)]

    return draw


def _run(each: Listed, now: datetime) -> str:
    if each.problems:
        return ""
    if not each.known:
        return NOT_YET
    run = each.last_run
    if run is None:
        return "never"
    if run.stopped is None:
        return f"runs, {age(run.started, now)}"
    return ago(run.stopped, now)


def _pencil(each: Listed, me: str, now: datetime, width: int) -> str:
    if not each.pencil:
        return ""
    first = min(each.pencil, key=lambda draft: draft.since)
    more = f"+{len(each.pencil) - 1}" if len(each.pencil) > 1 else ""
    who = people_of([first], me)
    if width < 120:
        who = who.partition(" ")[0]  # one name is enough to know whom to ask
    return f"{age(first.since, now)} {who}{more}"


def verdict_of(each: Listed, findings: Sequence[Finding] | None) -> StyledText:
    """The worst there is to say, in words."""
    return ("unreadable", "error") if each.problems else worst_of(findings)


def worst_of(findings: Sequence[Finding] | None) -> StyledText:
    """The worst that the checks say; None where they have not said anything yet."""
    if findings is None:
        return (NOT_YET, "")
    for level in ("error", "warning", "note"):
        number = sum(1 for finding in findings if finding.level == level)
        if number:
            return (count(number, level), level if level != "note" else "")
    return ("none", "")
