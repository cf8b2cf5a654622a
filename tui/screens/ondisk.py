"""A file that was changed outside the program.

Invariant: the file is never overwritten and never taken over without an answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views.wording import count
from tui.screens.changes import change_row
from tui.screens.choice import Choice, Option
from tui.widgets.lines import Item, fixed

if TYPE_CHECKING:
    from engine.views import OnDisk


def question_of(disk: OnDisk, width: int) -> Choice:
    """What was found, and what may become of it."""
    text: list[tuple[str, str] | Item] = [(_what(disk), ""), ("", "")]
    for change in disk.changes:
        row = change_row(change, width)
        text.append(fixed(("change", change.address), row, heading=True))
    text += [(str(problem), "error") for problem in disk.problems]
    if disk.comments:
        comments = count(disk.comments, "comment")
        text.append((f"{comments} in the text: pencil keeps them in the notes.", "strong"))
    text += [(line, "") for line in disk.extra]
    options = []
    if not disk.problems and not disk.gone:
        options.append(Option("p", "take it as pencil, to look at and to ink"))
    if not disk.never_inked:
        options.append(Option("b", "put back what is inked"))
    return Choice(f"Found on disk: {disk.document}", text, options, back="leave it as it is")


def _what(disk: OnDisk) -> str:
    if disk.gone:
        return "The file of this record is missing. It was not taken away through this program."
    if disk.never_inked:
        return "This file was put here by hand and was never inked."
    return (
        "The file of this record was changed outside this program since the last ink. "
        "No name and no reason are recorded for these values yet."
    )
