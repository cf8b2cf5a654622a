"""The engine's answers as plain dictionaries, for JSON and CSV.

Numbers are strings, as typed; moments are ISO 8601 with their offset; commits
are full ids; nothing is None that could be said. `docs/formats.md` describes
each of these.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from engine.views import (
    Change,
    Comparison,
    Confirmed,
    Draft,
    FigureChange,
    Finding,
    Inked,
    Listed,
    LogEntry,
    Mark,
    RunState,
    Traced,
    Who,
)
from schemas.number import spell

Plain = dict[str, Any]


def value(item: Any) -> Any:
    """A value of a record: numbers as strings, dates as ISO, lists item by item."""
    if isinstance(item, Mapping):
        return {key: value(inner) for key, inner in item.items()}
    if isinstance(item, list):
        return [value(inner) for inner in item]
    if isinstance(item, bool) or item is None:
        return item
    if isinstance(item, int | Decimal):
        return spell(item)
    if isinstance(item, datetime):
        return moment(item)
    return item.isoformat() if isinstance(item, date) else item


def moment(when: datetime | None) -> str | None:
    """ISO 8601 with offset, to the second."""
    return when.isoformat(timespec="seconds") if when else None


def who(person: Who) -> Plain:
    """A person."""
    return {"person": person.key, "name": person.name, "login": person.login or None}


def change(item: Change) -> Plain:
    """A change: address, old, new, unit, delta."""
    delta = spell(item.delta) if item.delta is not None else None
    return {
        "address": item.address,
        "old": value(item.old),
        "new": value(item.new),
        "unit": item.unit,
        "delta": delta,
    }


def comparison(item: Comparison) -> list[Plain]:
    """The changes of a comparison, each with its record."""
    return [{"record": item.document, **change(inner)} for inner in item.changes]


def positions(item: Comparison) -> list[Plain]:
    """Taught positions that moved, as vectors; distance in mm, turn in degrees."""
    return [
        {
            "record": item.document,
            "station": moved.station,
            "distance": round(moved.distance, 6),
            "turn": round(moved.turn, 6),
            "deltas": {
                axis: {"delta": spell(delta), "unit": unit} for axis, delta, unit in moved.deltas
            },
        }
        for moved in item.positions
    ]


def figure_change(record: str, item: FigureChange) -> Plain:
    """A figure that changed. What is worked out is a number, to 1e-6."""
    return {
        "record": record,
        "name": item.name,
        "group": item.group,
        "at": item.at,
        "unit": item.unit,
        "old": rounded(item.old),
        "new": rounded(item.new),
        "limit": rounded(item.limit),
        "old_verdict": item.old_verdict,
        "new_verdict": item.new_verdict,
    }


def rounded(number: float | None) -> float | None:
    """A computed number to 1e-6."""
    return None if number is None else round(number, 6) + 0.0


def traced(item: Traced) -> Plain:
    """A trace item: a change, and who made it when and why."""
    return {
        **change(item.change),
        "record": item.document,
        "commit": item.commit,
        "when": moment(item.when),
        "who": who(item.who),
        "reason": item.reason,
        "verified": item.verified,
        "runs": list(item.runs),
    }


def mark(item: Mark | None) -> Plain | None:
    """A named point."""
    if item is None:
        return None
    return {
        "mark": item.name,
        "kind": item.kind,
        "commit": item.commit,
        "when": moment(item.when),
        "who": who(item.who),
        "text": item.text,
    }


def run(item: RunState | None) -> Plain | None:
    """A run."""
    if item is None:
        return None
    return {
        "run": item.number,
        "id": item.id,
        "started": moment(item.started),
        "stopped": moment(item.stopped),
        "commit": item.commit,
        "end_commit": item.end_commit or None,
        "quantity": item.quantity,
        "good": item.good,
        "scrap": item.scrap,
        "who": who(item.who),
    }


def log_entry(item: LogEntry) -> Plain:
    """An entry of a run's log."""
    return {
        "run": item.run,
        "what": item.what,
        "at": moment(item.at),
        "who": who(item.who),
        "commit": item.commit,
        "text": item.text,
    }


def confirmed(item: Confirmed | None) -> Plain | None:
    """The last confirmation at the machine."""
    if item is None:
        return None
    return {
        "when": moment(item.when),
        "who": who(item.who),
        "commit": item.commit,
        "still": item.still,
    }


def draft(item: Draft) -> list[Plain]:
    """Pencil, value by value."""
    return [
        {
            "record": item.document,
            "address": mark.address,
            "old": value(mark.inked),
            "new": value(mark.value),
            "unit": mark.unit,
            "delta": spell(mark.delta) if mark.delta is not None else None,
            "who": who(mark.who),
            "at": moment(mark.at),
            "note": mark.note or None,
            "contested": who(mark.contested) if mark.contested else None,
        }
        for mark in item.marks
    ]


def finding(item: Finding) -> Plain:
    """A finding."""
    return {
        "rule": item.rule,
        "level": item.level,
        "record": item.record,
        "address": item.address,
        "message": item.message,
        "hint": item.hint,
        "file": item.file,
        "line": item.line,
    }


def listed(item: Listed) -> Plain:
    """A line of the book's list."""
    levels = Counter(found.level for found in item.findings)
    return {
        "record": item.record,
        "id": item.id,
        "part": item.part,
        "cell": item.cell,
        "last_ink": mark(item.last_ink),
        "last_run": run(item.last_run),
        "signed_off": item.signed_off,
        "changed_since_run": item.changed_since_run,
        "pencil": [
            {**who(d.who), "since": moment(d.since), "values": len(d.marks)} for d in item.pencil
        ],
        "findings": {level: levels[level] for level in ("error", "warning", "note")},
        "problems": [str(problem) for problem in item.problems],
        "retired": item.retired,
        "confirmed": confirmed(item.confirmed),
    }


def inked(item: Inked) -> Plain:
    """A save."""
    return {
        "record": item.document,
        "commit": item.commit,
        "subject": item.subject,
        "changes": [change(inner) for inner in item.changes],
        "messages": list(item.messages),
    }
