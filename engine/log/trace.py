"""The life of a value: every change since the record began, whoever made it.

A value belongs to the commit in which it differs from all parents; renames do
not interrupt it. A merge that decided between its sides is a change, too, so the last
change is the one by which the value stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from engine.log.decisions import Decided
from engine.log.diff import UnitOf, change
from engine.log.past import Past, Saved, ValueChange
from engine.views import Decision, RunState, Traced
from schemas.address import lies_in
from schemas.document import name_of


def trace(past: Past, key: str, covers: Callable[[str], bool], unit_of: UnitOf) -> list[Traced]:
    """Changes of every address that `covers` accepts, oldest first."""
    return [traced(row, unit_of, past.saved) for row in past.rows(key, covers)]


def traced(
    row: ValueChange, unit_of: UnitOf, saved_at: Callable[[str], Saved | None] = lambda _: None
) -> Traced:
    """One row of history as people see it."""
    saved = row.saved
    item = change(row.address, row.old, row.new, unit_of(row.address), row.path)
    merged = _merged(row.decided, saved_at) if row.decided else None
    return Traced(
        item, saved.id, saved.when, saved.who, saved.reason, saved.whole, name_of(row.path),
        merged=merged,
    )  # fmt: skip


def _merged(decided: Decided, saved_at: Callable[[str], Saved | None]) -> Decision:
    """Between whom a merge decided."""
    kept, against = (saved_at(commit) if commit else None for commit in decided)
    return Decision(
        kept.who if kept else None, decided.kept, against.who if against else None, decided.against
    )


def covering(address: str) -> Callable[[str], bool]:
    """Whether an address is the wanted one or lies in the wanted table."""
    return lambda other: lies_in(other, address)


def with_runs(items: Sequence[Traced], runs: Sequence[RunState], past: Past) -> list[Traced]:
    """The same items, each with the numbers of the runs in whose own states its value stood.

    All changes of the addresses must be there. A run's states are the revision that it started
    on, and what the box went through from there to its stop (or, while it is open, to now).
    """
    changes = [(item.commit, item.change.address) for item in items]
    stood = past.stood_in(changes, [(run.commit, run.end_commit) for run in runs])
    return [
        replace(item, runs=tuple(dict.fromkeys(runs[n].number for n in found)))
        for item, found in zip(items, stood, strict=True)
    ]
