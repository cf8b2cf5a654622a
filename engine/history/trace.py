"""The life of a value: every change since the record began, whoever made it.

A value belongs to the commit in which it differs from all parents; renames do
not interrupt it. This walk reads git and nothing else: it is the plain one,
and the oracle of any faster one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

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
    """The same items, each with the numbers of the runs made while it held."""
    last_at: dict[str, int] = {}
    numbers: list[list[int]] = [[] for _ in items]
    events = sorted(
        [(past.order.get(item.commit, -1), 0, n) for n, item in enumerate(items)]
        + [(past.order.get(run.commit, -1), 1, run.number) for run in runs]
    )
    for _, kind, n in events:
        if kind == 0:
            last_at[items[n].change.address] = n
        else:
            for index in last_at.values():
                numbers[index].append(n)
    return [
        Traced(i.change, i.commit, i.when, i.who, i.reason, i.verified, i.document, tuple(runs_of))
        for i, runs_of in zip(items, numbers, strict=True)
    ]
