"""The life of a value: every change since the record began, whoever made it.

A value belongs to the commit in which it differs from all parents; renames do
not interrupt it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from engine.log.diff import UnitOf, change
from engine.log.past import Past, ValueChange
from engine.views import RunState, Traced
from schemas.address import lies_in
from schemas.document import name_of


def trace(past: Past, key: str, covers: Callable[[str], bool], unit_of: UnitOf) -> list[Traced]:
    """Changes of every address that `covers` accepts, oldest first."""
    return [traced(row, unit_of) for row in past.rows(key, covers)]


def traced(row: ValueChange, unit_of: UnitOf) -> Traced:
    """One row of history as people see it."""
    saved = row.saved
    item = change(row.address, row.old, row.new, unit_of(row.address), row.path)
    return Traced(
        item, saved.id, saved.when, saved.who, saved.reason, saved.whole, name_of(row.path)
    )


def covering(address: str) -> Callable[[str], bool]:
    """Whether an address is the wanted one or lies in the wanted table."""
    return lambda other: lies_in(other, address)


def with_runs(items: Sequence[Traced], runs: Sequence[RunState], past: Past) -> list[Traced]:
    """The same items, each with the numbers of the runs that were made, or partly made, with it."""
    last = past.count()
    orders = [past.order_of(item.commit) for item in items]
    ends: list[int] = [last + 1] * len(items)  # order at which the next change took over
    known: dict[str, int] = {}
    for index, item in enumerate(items):
        earlier = known.get(item.change.address)
        if earlier is not None:
            ends[earlier] = orders[index]
        known[item.change.address] = index
    spans = [
        (
            run.number,
            past.order_of(run.commit),
            last if (end := past.order_of(run.end_commit)) < 0 else end,
        )
        for run in runs
    ]
    return [
        replace(item, runs=tuple(n for n, start, stop in spans if begin <= stop and start < end))
        for item, begin, end in zip(items, orders, ends, strict=True)
    ]
