"""The engine's answers as plain dictionaries, for JSON and CSV: the one serialiser.

Numbers that a person typed are strings, as typed; what is worked out is a number, to
1e-6; counts are numbers. Moments are ISO 8601 with the offset that they were written
with; commits are full ids. `docs/formats.md` describes the forms. An answer without a
form of its own is told field by field.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from engine.views.boxes import Arrived, Sent, Synced, Waiting
from engine.views.figures import Expected, Figure, FigureChange, FigureKind
from engine.views.papers import Paper
from engine.views.people import Identity, Who
from engine.views.programs import (
    CodeUse,
    EndWord,
    Extent,
    LineProblem,
    Note,
    ProgramChange,
    ProgramFacts,
)
from engine.views.records import Listed
from engine.views.upgrades import Upgraded, UpgradedFile
from engine.views.values import (
    Change,
    Comparison,
    Draft,
    Inked,
    Pencilled,
    PositionChange,
    Shown,
    Traced,
)
from schemas.number import as_it_stands, spell
from schemas.pocket import name_of

Plain = dict[str, Any]
_AS_TYPED = frozenset({"old", "new", "shared", "aside", "value", "values"})  # fields of a document
_NAMES = {"document": "record"}
_OWN_NAMES = {"Mark": {"name": "mark"}, "RunState": {"number": "run"}, "Filled": {"number": "fill"}}
_EMPTY_IS_NONE = frozenset({"end_commit", "teach_next", "kept_commit", "against_commit"})


def plain(answer: Any) -> Any:
    """An answer in its documented form; sequences item by item, None as None."""
    form = next((_FORMS[kind] for kind in type(answer).__mro__ if kind in _FORMS), None)
    if form is not None:
        return form(answer)
    if is_dataclass(answer):
        return _by_fields(answer)
    if isinstance(answer, Mapping):
        return {_key(key): plain(inner) for key, inner in answer.items()}
    if isinstance(answer, frozenset):
        return [plain(inner) for inner in sorted(answer)]
    if isinstance(answer, Sequence) and not isinstance(answer, str | bytes):
        return [plain(inner) for inner in answer]
    if isinstance(answer, float):
        return rounded(answer)
    return answer if isinstance(answer, int) else value(answer)


def value(item: Any) -> Any:
    """A value of a document: numbers as strings, dates as ISO, lists item by item."""
    if isinstance(item, Mapping):
        return {key: value(inner) for key, inner in item.items()}
    if isinstance(item, list):
        return [value(inner) for inner in item]
    if isinstance(item, bool) or item is None:
        return item
    if isinstance(item, int | Decimal):
        return as_it_stands(item)
    if isinstance(item, datetime):
        return item.isoformat(timespec="seconds")
    return item.isoformat() if isinstance(item, date | time) else item


def rounded(number: float | None) -> float | None:
    """A computed number to 1e-6."""
    return None if number is None else round(number, 6) + 0.0


def positions(item: Comparison) -> list[Plain]:
    """Taught positions that moved, each with its record."""
    return [{"record": item.document, **plain(moved)} for moved in item.positions]


def program(facts: ProgramFacts, changes: Sequence[ProgramChange] | None) -> Plain:
    """A program, and what changed since it was proved out (None where nobody can tell)."""
    since = None if changes is None else [change.text for change in changes]
    return {**plain(facts), "since_proved": since}


def flat(item: Traced) -> Plain:
    """A change with nothing nested, so that each column of a spreadsheet holds one thing."""
    row = _traced(item)
    who, runs, merged = row.pop("who"), row.pop("runs"), row.pop("merged") or {}
    del runs  # they would be worked out for each record anew
    sides = {name: (merged.get(name) or {}).get("person") for name in ("kept_by", "against_by")}
    return {**row, **who, "merged": bool(merged), **sides}


# forms


def _by_fields(answer: Any) -> Plain:
    names = _NAMES | _OWN_NAMES.get(type(answer).__name__, {})
    found: Plain = {}
    for field in fields(answer):
        inner = getattr(answer, field.name)
        told = value(inner) if field.name in _AS_TYPED else plain(inner)
        empty = field.name in _EMPTY_IS_NONE and inner == ""
        found[names.get(field.name, field.name)] = None if empty else told
    return found


def _named(*names: str) -> Callable[[Any], Plain]:
    return lambda answer: {name: plain(getattr(answer, name)) for name in names}


def _key(key: Any) -> str:
    return key if isinstance(key, str) else name_of(key)


def _who(person: Who) -> Plain:
    return {"person": person.key, "name": person.name, "login": person.login or None}


def _change(item: Change) -> Plain:
    return {**_by_fields(item), "unusable": item.unusable or None}


def _identity(me: Identity) -> Plain:
    """Who is at the terminal; the login is the kernel's word, a hint is nobody's."""
    return {
        "person": me.key or None,
        "name": me.name,
        "login": me.login,
        "login_from": "kernel",
        "roles": list(me.roles),
        "may_ink": me.may_ink,
        "may_lead": me.may_lead,
        "may_be": list(me.candidates),
        "hints": [{"from": hint.source, "says": hint.says} for hint in me.hints],
    }


def _comparison(item: Comparison) -> list[Plain]:
    return [{"record": item.document, **plain(change)} for change in item.changes]


def _position(moved: PositionChange) -> Plain:
    deltas = {axis: {"delta": spell(delta), "unit": unit} for axis, delta, unit in moved.deltas}
    return {**_named("station", "distance", "turn")(moved), "deltas": deltas}


def _shown(item: Shown) -> Plain:
    problems = [str(problem) for problem in item.problems]
    return {**_by_fields(item), "problems": problems}


def _traced(item: Traced) -> Plain:
    return {
        **plain(item.change),
        "record": item.document,
        "commit": item.commit,
        "when": value(item.when),
        "who": _who(item.who),
        "reason": item.reason,
        "verified": item.verified,
        "runs": list(item.runs),
        "merged": plain(item.merged),
    }


def _draft(item: Draft) -> list[Plain]:
    return [{"record": item.document, **_pencilled(mark)} for mark in item.marks]


def _inked(item: Inked) -> Plain:
    return {**_by_fields(item), "left": plain(item.left) or []}


def _pencilled(mark: Pencilled) -> Plain:
    return {
        "address": mark.address,
        "old": value(mark.inked),
        "new": value(mark.value),
        "unit": mark.unit,
        "delta": value(mark.delta),
        "who": _who(mark.who),
        "at": value(mark.at),
        "note": mark.note or None,
        "contested": plain(mark.contested),
    }


_LEVELS = ("error", "warning", "note")
_NOT_YET = ("part", "cell", "last_run", "signed_off", "changed_since_run")


def _listed(item: Listed) -> Plain:
    levels = Counter[str](found.level for found in item.findings or ())
    told = {level: levels[level] for level in _LEVELS} if item.findings is not None else None
    pencil = [
        {**_who(draft.who), "since": value(draft.since), "values": len(draft.marks)}
        for draft in item.pencil
    ]
    return {
        **_named("record", "id", "part", "cell", "last_ink", "last_run")(item),
        **_named("signed_off", "changed_since_run")(item),
        **({} if item.known else dict.fromkeys(_NOT_YET)),
        "pencil": pencil,
        "findings": told,
        "problems": [str(problem) for problem in item.problems],
        "retired": item.retired if item.known else None,
        "confirmed": plain(item.confirmed),
    }


def _expected(item: Expected) -> Plain:
    return {
        "address": item.address,
        "expected": value(item.value),
        "taught": value(item.taught),
        "unit": item.unit,
    }


def _paper(paper: Paper) -> Plain:
    return {
        "record": paper.document,
        "commit": paper.commit,
        "file": paper.name,
        "bytes": len(paper.data),
        "superseded": paper.superseded or None,
        "notes": list(paper.notes),
    }


def _program(facts: ProgramFacts) -> Plain:
    return {
        "sha256": facts.sha256,
        "size": facts.size,
        "lines": facts.lines,
        "ending": plain(facts.ending),
        "ending_when_deleting": plain(facts.ending_when_deleting),
        "unit": facts.unit,
        "offsets": [use.code for use in facts.work_offsets],
        "tools": list(facts.tool_numbers),
        "spindle_top": value(facts.spindle_top),
        "codes": plain(facts.codes("loader")),
        "stops": [plain(use) for use in facts.stops],
        "extents": plain(facts.extents),
        "machine_extents": plain(facts.machine_extents),
        "cutting_seconds": rounded(facts.times.cutting),
        "dwell_seconds": rounded(facts.times.dwell),
        "problems": [plain(problem) for problem in facts.problems],
        "notes": [plain(note) for note in facts.notes],
    }


def _synced(done: Synced) -> Plain:
    return {
        "where": done.where,
        "head": done.head,
        "merged": done.merged or None,
        "came": plain(done.came),
        "files": list(done.files),
        "went": plain(done.went),
        "contested": plain(done.contested),
        "waiting": plain(done.waiting),
        "messages": list(done.messages),
        "problem": done.problem or None,
    }


def _waiting(item: Waiting) -> Plain:
    seen = item.seen.isoformat() if item.seen else None
    return {"where": item.where or None, "seen": seen, "waiting": plain(item.commits)}


def _arrived(item: Arrived) -> Plain:
    changed = plain(item.change) if item.change else {"address": None}
    who = _who(item.who)
    return {"record": item.document, "what": item.what, **changed, **who, "commit": item.commit}


def _sent(item: Sent) -> Plain:
    when = item.when.isoformat()
    return {"commit": item.commit, "when": when, **_who(item.who), "subject": item.subject}


def _upgraded_file(item: UpgradedFile) -> Plain:
    names = [{"from": old, "to": new} for old, new in item.names]
    where = {"record": item.document, "path": item.path}
    return {**where, "from": item.old, "to": item.new, "addresses": names}


def _upgraded(done: Upgraded) -> Plain:
    return {"commit": done.commit or None, **_named("files", "left")(done)}


_judged = _named("name", "group", "at", "value", "unit", "limit", "margin", "verdict")
_why = _named("missing", "note")
_FORMS: dict[type, Callable[[Any], Any]] = {
    Arrived: _arrived,
    CodeUse: _named("code", "line"),
    Change: _change,
    Comparison: _comparison,
    Draft: _draft,
    Inked: _inked,
    EndWord: _named("code", "line"),
    Expected: _expected,
    Extent: _named("low", "high", "low_mm", "high_mm"),
    Figure: lambda figure: {**_judged(figure), "kind": figure.kind.name, **_why(figure)},
    FigureChange: _named(
        *("name", "group", "at", "unit", "old", "new", "limit", "old_verdict", "new_verdict")
    ),
    Identity: _identity,
    FigureKind: _named("group", "unit", "bound", "formula", "source"),
    LineProblem: _named("line", "kind", "reason"),
    Listed: _listed,
    Note: _named("line", "kind", "count", "reason"),
    Paper: _paper,
    Pencilled: _pencilled,
    PositionChange: _position,
    ProgramFacts: _program,
    Sent: _sent,
    Shown: _shown,
    Synced: _synced,
    Traced: _traced,
    Upgraded: _upgraded,
    UpgradedFile: _upgraded_file,
    Waiting: _waiting,
    Who: _who,
}
