"""How a record stands: runs, what was read back, sign-off, findings, pencil."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording.counts import count, spans
from engine.views.wording.moments import age, ago, day, how_old
from engine.views.wording.people import person

if TYPE_CHECKING:
    from engine.views import Confirmed, Draft, Finding, Listed, RunState

SIGNED = {"yes": "signed off", "void": "sign-off void", "no": "not signed off"}
NOT_YET = "…"  # is known later, or when somebody asks for it
_LEVELS = ("error", "warning")


def run_words(run: RunState | None, now: datetime) -> str:
    """How the last run stands, beside the record's name."""
    if run is None:
        return "never ran"
    if run.stopped is None:
        return f"run {run.number} goes on, {age(run.started, now)}"
    return f"run {run.number}, {ago(run.stopped, now)}"


def runs_words(runs: Sequence[RunState], now: datetime) -> str:
    """All runs of a record: `4 runs; the last one 12 d ago`."""
    if not runs:
        return "never ran"
    going = next((run for run in runs if run.stopped is None), None)
    if going is not None:
        return f"{count(len(runs), 'run')}; {run_words(going, now)}"
    last = runs[-1].stopped
    assert last is not None
    return f"{count(len(runs), 'run')}{'; the last one' if len(runs) > 1 else ','} {ago(last, now)}"


def run_result(run: RunState | None) -> str:
    """What the last run gave, by the calendar."""
    if run is None:
        return "never ran"
    if run.stopped is None:
        return f"run {run.number} goes on"
    return f"{day(run.stopped)}, {run.good} good, {run.scrap} scrap"


def ran_in(runs: Sequence[int]) -> str:
    """The runs that a value was in: `ran in run 1`, `ran in runs 1-3`, `never ran`."""
    if not runs:
        return "never ran"
    return f"ran in run{'' if len(set(runs)) == 1 else 's'} {spans(runs)}"


def changed_since_run(item: Listed) -> str:
    """What is inked beside what ran last; empty where it never ran."""
    if item.changed_since_run is None:
        return ""
    return f"{item.changed_since_run} changed" if item.changed_since_run else "as it ran"


def confirmed_words(item: Confirmed | None) -> str:
    """Whether what is inked was read back at the machine."""
    if item is None:
        return "never read back"
    return "read back" if item.still else "changed since it was read back"


def finding_words(findings: Sequence[Finding] | None) -> str:
    """How many errors and warnings; empty where there is neither, dots where nobody knows yet."""
    if findings is None:
        return NOT_YET
    numbers = {level: sum(f.level == level for f in findings) for level in _LEVELS}
    return ", ".join(count(number, level) for level, number in numbers.items() if number)


def pencil_words(draft: Draft, me: str, now: datetime) -> str:
    """Whose pencil, how much, how old: `Ifeoma Tobande, 2 values, 3 h old`."""
    who, number = person(draft.who, me), count(len(draft.marks), "value")
    return f"{who}, {number}, {how_old(draft.since, now)}"
