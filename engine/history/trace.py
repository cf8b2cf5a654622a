"""The life of a value: every change since the record began, whoever made it.

A value belongs to the commit in which it differs from all parents; renames do
not interrupt it. This walk reads git and nothing else: it is the plain one,
and the oracle of any faster one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from engine.answers import RunState, Traced
from engine.history.diff import UnitOf, change
from engine.history.past import Past, Step
from schemas.address import Value, lies_in, same_value
from schemas.document import name_of


def trace(past: Past, key: str, covers: Callable[[str], bool], unit_of: UnitOf) -> list[Traced]:
    """Changes of every address that `covers` accepts, oldest first."""
    items: list[Traced] = []
    readable: Mapping[str, Value] = {}
    for step in past.lives.get(key, []):
        new = past.values(step.path, step.new)
        if new is None:
            continue  # no TOML at all: the next readable text tells what changed
        olds = [_or(past.values(step.path, old), readable) for old in step.olds]
        items.extend(_changes(step, olds, new, covers, unit_of))
        readable = new
    return items


def _or(values: Mapping[str, Value] | None, other: Mapping[str, Value]) -> Mapping[str, Value]:
    return other if values is None else values


def _changes(
    step: Step,
    olds: Sequence[Mapping[str, Value]],
    new: Mapping[str, Value],
    covers: Callable[[str], bool],
    unit_of: UnitOf,
) -> list[Traced]:
    addresses = dict.fromkeys([*new, *(a for old in olds for a in old)])
    found = []
    for address in filter(covers, addresses):
        value = new.get(address)
        if all(not same_value(old.get(address), value) for old in olds):
            saved = step.saved
            item = change(address, olds[0].get(address), value, unit_of(address))
            document = name_of(step.path) if step.path else ""
            found.append(
                Traced(item, saved.id, saved.when, saved.who, saved.reason, saved.whole, document)
            )
    return found


def covering(address: str) -> Callable[[str], bool]:
    """Whether an address is the wanted one or lies in the wanted table."""
    return lambda other: lies_in(other, address)


def with_runs(items: Sequence[Traced], runs: Sequence[RunState], past: Past) -> list[Traced]:
    """The same items, each with the numbers of the runs that were made, or partly made, with it."""
    last = len(past.saves)
    orders = [past.order.get(item.commit, -1) for item in items]
    ends: list[int] = [last + 1] * len(items)  # order at which the next change took over
    known: dict[str, int] = {}
    for index, item in enumerate(items):
        earlier = known.get(item.change.address)
        if earlier is not None:
            ends[earlier] = orders[index]
        known[item.change.address] = index
    spans = [
        (run.number, past.order.get(run.commit, -1), past.order.get(run.end_commit, last))
        for run in runs
    ]
    return [
        replace(item, runs=tuple(n for n, start, stop in spans if begin <= stop and start < end))
        for item, begin, end in zip(items, orders, ends, strict=True)
    ]
