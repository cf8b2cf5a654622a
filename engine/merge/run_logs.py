"""Two logs of one run become one: no entry is lost, none is changed.

An entry that only one side has is added. Where both sides gave one number to
different entries, the shared one keeps it and this box's gets a letter behind
its number. How a run ended is taken whole from one side, and that is told; the other's
counts stand in its own `stop` entry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain, count
from string import ascii_lowercase

from engine.merge.three_way import Joined, join
from schemas.address import Value

StepValues = dict[str, Value]


def join_runs(
    bases: Sequence[Mapping[str, Value]],
    ours: Mapping[str, Value],
    shared: Mapping[str, Value],
) -> Joined:
    """The log of both sides."""
    sides = [{a: v for a, v in side.items() if not _is_step(a)} for side in (ours, shared)]
    joined = join(bases, sides[0], sides[1], lambda a: "end" if a.startswith("end.") else "")
    joined.told, joined.contested, joined.yielded = joined.contested, [], []
    steps = _steps(shared)
    there = list(steps.values())
    for number, entry in _steps(ours).items():
        if entry in there:
            there.remove(entry)
        else:
            steps[_free(number, steps)] = entry
    for number, entry in sorted(steps.items()):
        joined.values |= {f"steps.{number}.{name}": value for name, value in entry.items()}
    return joined


def _is_step(address: str) -> bool:
    return address.startswith("steps.")


def _steps(values: Mapping[str, Value]) -> dict[str, StepValues]:
    found: dict[str, StepValues] = {}
    for address, value in values.items():
        if _is_step(address) and address.count(".") == 2:
            _, number, name = address.split(".")
            found.setdefault(number, {})[name] = value
    return found


def _free(number: str, steps: Mapping[str, StepValues]) -> str:
    """The number itself, or with the first letter that is free; z2, z3, … after z."""
    letters = chain(["", *ascii_lowercase], (f"z{n}" for n in count(2)))
    return next(f"{number}{s}" for s in letters if f"{number}{s}" not in steps)
