"""Answers in words: the lines and columns of the text form.

Only wording and layout; whatever is shown was computed below.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from engine.views import (
    Change,
    Comparison,
    Confirmed,
    Draft,
    FigureChange,
    Finding,
    Listed,
    LogEntry,
    Mark,
    PositionChange,
    RunState,
    Traced,
)
from schemas.address import Value, show

Rows = list[list[str]]


def short(value: Value | None, most: int = 44) -> str:
    """A value on one line, cut where it is long."""
    if value is None:
        return "nothing"
    text = " ".join(show(value).split())
    return text if len(text) <= most else f"{text[: most - 1]}…"


def signed(delta: Decimal | None) -> str:
    """A difference with its sign."""
    return f"{delta:+f}" if delta is not None else ""


def moment(when: datetime) -> str:
    """A moment as people read it."""
    return when.strftime("%Y-%m-%d %H:%M")


def age(when: datetime, now: datetime) -> str:
    """How long ago, in one word and number."""
    minutes = int((now - when).total_seconds() // 60)
    for size, name in ((60 * 24, "d"), (60, "h"), (1, "min")):
        if minutes >= size:
            return f"{minutes // size} {name}"
    return "now"


def change_rows(changes: Sequence[Change]) -> Rows:
    """Address, old, new, unit, difference."""
    rows = [["value", "from", "to", "unit", "difference"]]
    for item in changes:
        is_hash = item.unit == "sha256"
        old, new = (
            (_hash(item.old), _hash(item.new)) if is_hash else (short(item.old), short(item.new))
        )
        rows.append([item.address, old, new, "" if is_hash else item.unit, signed(item.delta)])
    return rows


def _hash(value: Value | None) -> str:
    return f"{str(value)[:12]}…" if value else "nothing"


def position_line(moved: PositionChange) -> str:
    """A taught position that moved, as one vector."""
    parts = ", ".join(f"{axis} {signed(delta)} {unit}" for axis, delta, unit in moved.deltas)
    distance = f"moved {moved.distance:.3f} mm" if moved.distance else "turned"
    return f"position {moved.station} {distance}: {parts}"


MOST_FIGURES = 12  # consequences told in text; JSON has all


def figure_change_lines(items: Sequence[FigureChange]) -> list[str]:
    """What a change does to the figures, worst first."""
    from engine.figures import wording

    lines = [f"figure {wording.change_in_words(item)}" for item in items[:MOST_FIGURES]]
    left = len(items) - MOST_FIGURES
    return [*lines, f"and {left} more figures changed; JSON lists them"] if left > 0 else lines


def heading(item: Comparison) -> str:
    """What was compared with what, and how much differs."""
    count = len(item.changes)
    differ = "nothing differs" if not count else f"{count} value{'s' if count > 1 else ''} differ"
    differ = differ.replace("1 value differ", "1 value differs")
    respelt = f" ({item.respelt} only spelt otherwise)" if item.respelt else ""
    return f"{item.document}: {item.start} -> {item.end}: {differ}{respelt}"


def trace_rows(items: Sequence[Traced]) -> Rows:
    """When, who, what, and why."""
    rows = [
        ["when", "who", "value", "from", "to", "unit", "difference", "runs", "reason", "commit", ""]
    ]
    for item in items:
        runs = _spans(item.runs)
        rows.append(
            [
                moment(item.when),
                item.who.name,
                item.change.address,
                short(item.change.old, 24),
                short(item.change.new, 24),
                item.change.unit,
                signed(item.change.delta),
                runs,
                " ".join(item.reason.split()),
                item.commit[:10],
                "" if item.verified else "by hand",
            ]
        )
    return rows


def _spans(runs: Sequence[int]) -> str:
    """1, 2, 3, 5 as `1-3, 5`."""
    spans: list[list[int]] = []
    for number in sorted(set(runs)):
        if spans and spans[-1][-1] == number - 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    return ", ".join(str(s[0]) if len(s) == 1 else f"{s[0]}-{s[-1]}" for s in spans)


def mark_rows(items: Sequence[Mark]) -> Rows:
    """Mark, when, who, what."""
    rows = [["mark", "when", "who", "commit", "what"]]
    rows += [
        [m.name, moment(m.when), m.who.name, m.commit[:10], " ".join(m.text.split())] for m in items
    ]
    return rows


def log_rows(items: Sequence[LogEntry]) -> Rows:
    """Run, moment, what, who, particulars."""
    rows = [["run", "when", "what", "who", "particulars"]]
    rows += [
        [str(i.run), moment(i.at), i.what, i.who.name, " ".join(i.text.split())] for i in items
    ]
    return rows


def list_rows(items: Sequence[Listed], now: datetime) -> Rows:
    """The book's list."""
    rows = [
        [
            "record",
            "part",
            "cell",
            "last ink",
            "last run",
            "since run",
            "confirmed",
            "sign-off",
            "pencil",
            "findings",
        ]
    ]
    for item in items:
        if item.problems:
            rows.append([item.record, f"! {item.problems[0].what}", *[""] * 8])
            continue
        ink = f"{moment(item.last_ink.when)} {item.last_ink.who.name}" if item.last_ink else "never"
        since = (
            ""
            if item.changed_since_run is None
            else (f"{item.changed_since_run} changed" if item.changed_since_run else "as run")
        )
        pencil = ", ".join(
            f"{d.who.name} {len(d.marks)} ({age(d.since, now)})" for d in item.pencil
        )
        rows.append(
            [
                item.record,
                item.part,
                item.cell,
                ink,
                run_words(item.last_run),
                since,
                confirmed_words(item.confirmed),
                item.signed_off,
                pencil,
                finding_words(item.findings),
            ]
        )
    return rows


def confirmed_words(item: Confirmed | None) -> str:
    """Whether what is inked was read back at the machine."""
    if item is None:
        return "no"
    return f"{moment(item.when)[:10]}" if item.still else "changed since"


def run_words(run: RunState | None) -> str:
    """A run in a few words."""
    if run is None:
        return "never"
    if run.stopped is None:
        return f"run {run.number} is open"
    return f"{moment(run.stopped)[:10]} {run.good} good {run.scrap} scrap"


def finding_words(findings: Sequence[Finding]) -> str:
    """How many of which level."""
    counts = {level: sum(f.level == level for f in findings) for level in ("error", "warning")}
    return ", ".join(f"{n} {level}{'s' if n > 1 else ''}" for level, n in counts.items() if n)


def finding_lines(item: Finding) -> list[str]:
    """A finding on two lines."""
    place = f"{item.file}:{item.line}" if item.line else item.file
    address = f" {item.address}" if item.address else ""
    return [f"{item.level}: {place}{address}: {item.message} [{item.rule}]", f"  {item.hint}"]


def pencil_rows(drafts: Sequence[Draft]) -> Rows:
    """Pencil, value by value, the inked one beside it."""
    rows = [["record", "who", "value", "in ink", "in pencil", "unit", "difference", "since", ""]]
    for item in drafts:
        for mark in item.marks:
            said = f"contested: {mark.contested.name} inked it" if mark.contested else mark.note
            rows.append(
                [
                    item.document,
                    item.who.name,
                    mark.address,
                    short(mark.inked, 24),
                    short(mark.value, 24),
                    mark.unit,
                    signed(mark.delta),
                    moment(mark.at),
                    said,
                ]
            )
    return rows


def many(count: int, what: str) -> str:
    """A count with its noun: `1 figure`, `3 figures`."""
    return f"{count} {what}{'' if count == 1 else 's'}"
