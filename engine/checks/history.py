"""Rules on the past: positions that came in outside the program, and lots left open."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from engine.book import taken_out as gone
from engine.book.commit_words import line as in_one_line
from engine.book.session import Held
from engine.checks.changes import changed_in
from engine.checks.rule import RULES, Say, Says, rule
from engine.checks.view import BookView, RecordView
from engine.log.diff import change
from engine.views.wording import count, day
from schemas.document import kind_of
from schemas.errors import ReadError
from schemas.log import Run, SignOff

LONG_RUN = timedelta(days=7)


@rule(
    "position-by-hand",
    "error",
    "Compare it with the machine; a sign-off accepts it, `witnessmark restore {record} MARK "
    "{address} --reason TEXT` goes back.",
)
def position_by_hand(view: RecordView) -> Says:
    """A taught position was changed by a commit that the program did not make."""
    by_hand = [n for n, step in enumerate(view.life) if not step.saved.whole]
    accepted = _accepted(view) if by_hand else -1
    later: set[str] = set()
    for index in range(len(view.life) - 1, min(by_hand, default=len(view.life)) - 1, -1):
        saved = view.life[index].saved
        if view.session.past.order_of(saved.id) <= accepted:
            return
        all_changed = changed_in(view, index, _is_position)
        changed = [item for item in all_changed if item[0] not in later]
        later |= {address for address, _, _ in changed}
        if saved.whole:
            continue
        by = f"by commit {saved.id[:10]} ({saved.who.name}, {day(saved.when)}), made by hand"
        if not any(view.life[index].olds) and changed:
            yield Say("positions", f"{count(len(changed), 'value')} came with the record {by}")
            continue
        for address, old, new in changed:
            words = in_one_line(change(address, old, new, view.unit(address)))
            yield Say(address, f"{words.partition(': ')[2]} {by}")


def _is_position(address: str) -> bool:
    return address.startswith("positions.")


def _accepted(view: RecordView) -> int:
    """Where in history the last sign-off of a record stands; -1 for none."""
    past = view.session.past
    found = [-1]
    for path, blob in view.session.entries.under(f"signoffs/{view.held.key}"):
        try:
            model = past.document(path, blob).model
        except ReadError:
            continue
        steps = past.life(path.removesuffix(".toml"))
        if isinstance(model, SignOff) and steps and all(step.saved.whole for step in steps):
            found.append(past.order_of(model.sign_off.commit))
    return max(found)


@rule(
    "taken-out",
    "error",
    "`witnessmark restore {record} --reason TEXT` brings it back with its past; a record that is "
    "no longer wanted is retired.",
    "book",
)
def taken_out(view: BookView) -> Says:
    """A document was taken out of the book outside the program: its past is kept."""
    for held in gone.all_gone(view.session):
        by = gone.taken_out_by(held)
        where = f"by commit {by.id[:10]} ({by.who.name}, {day(by.when)})" if by else "in a merge"
        said = f"{held.name} ({held.key})" if held.is_record else held.name
        hint = RULES["taken-out"].hint.format(record=held.key)
        name = _owner(view, held) or held.name
        there = held.path in view.session.entries
        what = (
            "lost its place to a text with another identity, or none,"
            if there
            else ("was taken out of the book")
        )
        yield Say("", f"{said} {what} {where}", hint, name, held.path, 0)


def _owner(view: BookView, held: Held) -> str:
    """The record or cell that a run, a sign-off or an event belongs to."""
    kind, parts = kind_of(held.path), held.path.split("/")
    if kind == "event":
        return f"cells/{parts[1]}"
    return view.session.name_of_key(parts[1]) if kind in ("run", "sign-off") else ""


def _open_run(view: RecordView) -> tuple[int, datetime] | None:
    """Number and start of the run that is open, or None."""
    for path, blob in view.session.entries.under(f"runs/{view.held.key}"):
        try:
            model = view.session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, Run) and model.end is None and model.steps:
            return model.run.number, min(step.at for step in model.steps.values())
    return None


@rule(
    "run-left-open",
    "note",
    "`witnessmark run stop {record}` closes it with its counts.",
)
def run_left_open(view: RecordView) -> Says:
    """A run has been open for more than a week."""
    run = _open_run(view)
    if run is not None and view.book.now - run[1] > LONG_RUN:
        days = (view.book.now - run[1]).days
        yield Say("", f"run {run[0]} has been open for {days} days")


@rule(
    "two-runs-open",
    "warning",
    "`witnessmark run stop {record}` closes the one that is over.",
    "book",
)
def two_runs_open(view: BookView) -> Says:
    """Two records have an open run on one cell, which runs one lot at a time."""
    for cell, running in _running(view):
        for record, number in running if len(running) > 1 else ():
            others = " and ".join(other.name for other, _ in running if other is not record)
            yield Say(
                "record.cell",
                f"run {number} is open on {cell}, and so is one of {others}",
                document=record.name,
            )


def _running(view: BookView) -> Iterator[tuple[str, list[tuple[RecordView, int]]]]:
    by_cell: dict[str, list[tuple[RecordView, int]]] = {}
    for record in view.in_use():
        run = _open_run(record)
        if run is not None:
            by_cell.setdefault(record.model.record.cell, []).append((record, run[0]))
    yield from by_cell.items()
