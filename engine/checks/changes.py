"""In which step of a document's life a value changed last.

A value changed in a step where it differs from that of every parent, as the trace tells it
(`engine.log`): the past has it by rows, and no text is read for it. What a sync decided lies
between two changes of people, told as such; of a merge by hand what it decided counts, too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from engine.checks.view import DocumentView
from engine.log.past import ValueChange
from schemas.address import Value, lies_in


def last_change(view: DocumentView, table: str, counts: Callable[[str], bool]) -> int | None:
    """Index of the last step that changed a value in a table for which `counts` holds.

    None where nothing did since the document began.
    """
    began = max((n for n, step in enumerate(view.life) if not any(step.olds)), default=-1)
    found = (
        index
        for index, rows in _by_step(view).items()
        if index > began
        and any(
            lies_in(row.address, table) and counts(row.address) and not _of_a_sync(row)
            for row in rows
        )
    )
    return max(found, default=None)


def changed_in(
    view: DocumentView, index: int, covers: Callable[[str], bool]
) -> Iterator[tuple[str, Value | None, Value | None]]:
    """Covered values that a step changed: address, old, new."""
    rows = _by_step(view).get(index, ())
    return (
        (row.address, row.old, row.new)
        for row in rows
        if covers(row.address) and not _of_a_sync(row)
    )


def decided_in(view: DocumentView, index: int) -> Iterator[ValueChange]:
    """What a step decided, where it was a merge."""
    return (row for row in _by_step(view).get(index, ()) if row.decided is not None)


def _of_a_sync(row: ValueChange) -> bool:
    return row.decided is not None and row.saved.whole


def _by_step(view: DocumentView) -> dict[int, list[ValueChange]]:
    """Every change of the document, by the index of its step in the life."""
    life = view.life

    def rows() -> dict[int, list[ValueChange]]:
        numbers = {step.saved.id: n for n, step in enumerate(life)}
        found: dict[int, list[ValueChange]] = {}
        for row in view.session.past.rows(view.held.key, lambda _: True):
            found.setdefault(numbers[row.saved.id], []).append(row)
        return found

    return view.once("changes", rows)
