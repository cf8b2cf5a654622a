"""Answers as the columns and lines of the text form; the words are the engine's.

Invariant: nothing is worked out here. The first row of a table is its heading.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import (
    NO_VALUE,
    NOT_YET,
    SIGNED,
    address_words,
    changed_since_run,
    confirmed_words,
    count,
    day,
    decided_words,
    differ_words,
    finding_words,
    moment,
    new_words,
    old_words,
    pencil_words,
    person_and_login,
    run_result,
    short,
    signed,
    spans,
)
from engine.views.wording import figures as figure_words
from schemas.address import Value

if TYPE_CHECKING:
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
        TakenOut,
        Traced,
    )

Rows = list[list[str]]


def change_rows(changes: Sequence[Change]) -> Rows:
    """Address, old, new, unit, difference."""
    rows = [["value", "from", "to", "unit", "difference"]]
    for item in changes:
        is_hash = item.unit == "sha256"
        old, new = (
            (_hash(item.old), _hash(item.new))
            if is_hash
            else (old_words(item, MOST_SIGNS), new_words(item, MOST_SIGNS))
        )
        rows.append([item.address, old, new, "" if is_hash else item.unit, signed(item.delta)])
    return rows


def _hash(value: Value | None) -> str:
    return f"{str(value)[:12]}…" if value else NO_VALUE


MOST_SIGNS = 44  # of a value in a column
MOST_FIGURES = 12  # consequences told in text; JSON has all


def figure_change_lines(items: Sequence[FigureChange]) -> list[str]:
    """What a change does to the figures, worst first."""
    lines = [f"figure {figure_words.change_in_words(item)}" for item in items[:MOST_FIGURES]]
    left = len(items) - MOST_FIGURES
    if left > 0:
        lines.append(f"{count(left, 'more figure')} changed; JSON lists them")
    return lines


def heading(item: Comparison) -> str:
    """What was compared with what, and how much differs."""
    return f"{item.document}: {item.start} -> {item.end}: {differ_words(item)}"


Logins = Mapping[str, Collection[str]]  # those that are one person's alone, by person


def trace_rows(items: Sequence[Traced], own: Logins) -> Rows:
    """When, who, what, and why."""
    rows = [
        ["when", "who", "value", "from", "to", "unit", "difference", "runs", "reason", "commit", ""]
    ]
    for item in items:
        runs = spans(item.runs)
        rows.append(
            [
                moment(item.when),
                person_and_login(item.who, own),
                address_words(item.change),
                old_words(item.change, 24),
                new_words(item.change, 24),
                item.change.unit,
                signed(item.change.delta),
                runs,
                "; ".join(filter(None, (decided_words(item), " ".join(item.reason.split())))),
                item.commit[:10],
                "" if item.verified else "by hand",
            ]
        )
    return rows


def mark_rows(items: Sequence[Mark], own: Logins) -> Rows:
    """Mark, when, who, what."""
    rows = [["mark", "when", "who", "commit", "what"]]
    for m in items:
        who = person_and_login(m.who, own)
        rows.append([m.name, moment(m.when), who, m.commit[:10], " ".join(m.text.split())])
    return rows


def taken_out_rows(items: Sequence[TakenOut]) -> Rows:
    """What was taken out: last name, identity, what it was, last ink, who took it out."""
    rows = [["was called", "identity", "what", "part", "last ink", "taken out", "by", "commit"]]
    for item in items:
        by = item.by
        out = [moment(by.when), by.who.name, by.commit[:10]] if by else ["in a merge", "", ""]
        ink = moment(item.last_ink.when)
        rows.append([item.document, item.id, item.kind, item.part, ink, *out])
    return rows


def log_rows(items: Sequence[LogEntry]) -> Rows:
    """Run, moment, what, who, particulars."""
    rows = [["run", "when", "what", "who", "particulars"]]
    rows += [
        [str(i.run), moment(i.at), i.what, i.who.name, " ".join(i.text.split())] for i in items
    ]
    return rows


_LIST = ("record", "part", "cell", "last ink", "last run", "since run", "at the machine")
_LIST_MORE = ("sign-off", "pencil", "findings")


def list_rows(items: Sequence[Listed], now: datetime) -> Rows:
    """The book's list."""
    return [[*_LIST, *_LIST_MORE], *(_list_row(item, now) for item in items)]


def _list_row(item: Listed, now: datetime) -> list[str]:
    if item.problems:
        return [item.record, f"! {item.problems[0].what}", *[""] * 8]
    ink = f"{moment(item.last_ink.when)} {item.last_ink.who.name}" if item.last_ink else "never"
    if not item.known:
        return [item.record, *[NOT_YET] * (len(_LIST) + len(_LIST_MORE) - 1)]
    return [
        item.record,
        item.part,
        item.cell,
        ink,
        run_result(item.last_run),
        changed_since_run(item),
        _confirmed(item.confirmed),
        SIGNED[item.signed_off],
        "; ".join(pencil_words(draft, "", now) for draft in item.pencil),
        finding_words(item.findings),
    ]


def _confirmed(item: Confirmed | None) -> str:
    return f"{confirmed_words(item)}{f', {day(item.when)}' if item else ''}"


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
