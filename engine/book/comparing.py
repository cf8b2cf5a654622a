"""Looking: what stood at a mark, what differs, and the life of a value.

Nothing here writes. A comparison says what it compared; a moment is echoed as
it was resolved.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime

from engine.book import pencilling, revisions
from engine.book.revisions import Revision
from engine.book.session import Held, Session
from engine.log import trace as tracing
from engine.log.diff import changes_between, position_changes
from engine.repo.work_tree import read_file
from engine.views import Change, Comparison, Shown, Traced
from schemas.address import Value, grow, lies_in
from schemas.document import Document
from schemas.errors import ReadError, UsageError
from schemas.record import is_link
from schemas.typed import describe_known


def show(session: Session, held: Held, at: str) -> Shown:
    """A document at a mark, as nested tables."""
    if at == "pencil":
        values = pencilling.values_in_pencil(session, held)
        return Shown(held.name, session.head, at, grow(values))
    point = revisions.resolve(session, held, at)
    if not point.blob:
        raise UsageError(f"{held.name} did not exist at {at}", hint="`marks` lists when it did.")
    document = revisions.document_at(session, point)
    assert document is not None
    return Shown(held.name, point.commit, at or "now", document.tree)


def compare(session: Session, held: Held, start: str, end: str) -> Comparison:
    """What differs between two marks; `pencil` is my pencil and the files on disk."""
    return between(session, held, _point(session, held, start), _point(session, held, end))


def _point(session: Session, held: Held, mark: str) -> Revision:
    if mark == "pencil":
        return Revision("pencil", "", held.path, held.blob)
    return revisions.resolve(session, held, mark)


def since_run(session: Session, held: Held, number: int | None) -> Comparison:
    """What changed since the stop of a run: the last stopped one, or the one named."""
    runs = revisions.runs(session, held)
    chosen = [r for r in runs if (r.number == number if number is not None else r.stopped)]
    if not chosen:
        which = f"run {number}" if number is not None else "run that was stopped"
        numbers = ", ".join(str(run.number) for run in runs) or "none"
        raise UsageError(f"{held.name} has no {which}", hint=f"Its runs: {numbers}.")
    run = chosen[-1]
    words = "its stop" if run.stopped else "its start, it is still open"
    when = run.stopped or run.started
    label = f"run {run.number} ({words}, {when.isoformat(timespec='minutes')})"
    start = revisions.at_commit(session, held, run.end_commit or run.commit, label)
    return between(session, held, start, revisions.resolve(session, held, "now"))


def since_sign_off(session: Session, held: Held) -> Comparison:
    """What changed since the last sign-off."""
    done = revisions.sign_offs(session, held)
    if not done:
        raise UsageError(f"{held.name} was never signed off")
    head = done[-1].sign_off
    label = f"sign-off {len(done)} ({head.at.isoformat(timespec='minutes')})"
    return between(
        session,
        held,
        revisions.at_commit(session, held, head.commit, label),
        revisions.resolve(session, held, "now"),
    )


def since(session: Session, held: Held, moment: datetime) -> Comparison:
    """What changed since a moment."""
    start = revisions.before(session, held, moment, moment.isoformat(timespec="seconds"))
    return between(session, held, start, revisions.resolve(session, held, "now"))


def between(session: Session, held: Held, start: Revision, end: Revision) -> Comparison:
    """Value by value, positions as vectors, program and photos by their hash."""
    old, new = revisions.values_at(session, start), revisions.values_at(session, end)
    if end.label == "pencil":
        new = pencilling.values_in_pencil(session, held)
    elif start.label == "pencil":
        old = pencilling.values_in_pencil(session, held)
    changes, respelt = changes_between(old, new, session.units_at(held.path, held.blob))
    changes += _contents(session, start, old, end, new)
    return Comparison(
        held.name,
        start.label,
        end.label,
        tuple(changes),
        tuple(position_changes(changes)),
        respelt,
        start.commit if start.blob else "",
        end.commit if end.blob else "",
    )


def _contents(
    session: Session, start: Revision, old: dict[str, Value], end: Revision, new: dict[str, Value]
) -> list[Change]:
    """Linked files whose bytes differ, as `program.content`, `photos.jaws.content`."""
    found = []
    for address in [a for a in {**old, **new} if is_link(a)]:
        one, other = (
            _bytes_at(session, start, old.get(address)),
            _bytes_at(session, end, new.get(address)),
        )
        if one != other and old and new:
            name = address.removesuffix("file") + "content"
            found.append(Change(name, _sha(one), _sha(other), "sha256", None))
    return found


def _bytes_at(session: Session, point: Revision, path: Value | None) -> bytes | None:
    if not isinstance(path, str):
        return None
    if point.commit == "":
        try:
            return read_file(session.folder, path)
        except UsageError:
            return None
    entries = session.entries if point.commit == session.head else session.git.tree(point.commit)
    return session.git.blob(entries[path]) if path in entries else None


def _sha(data: bytes | None) -> str | None:
    return hashlib.sha256(data).hexdigest() if data is not None else None


def trace(session: Session, held: Held, address: str, *, through_copies: bool) -> list[Traced]:
    """Every change of a value, a position or a section, oldest first."""
    document = _document(session, held)
    items = _traced(session, held.key, address, session.units_at(held.path, held.blob))
    if not items and document is not None:
        describe_or_table(document, address)
    source = document.values.get("record.copied_from") if document else None
    items = tracing.with_runs(items, revisions.runs(session, held), session.past)
    if through_copies and isinstance(source, str):
        copied = revisions.life(session, held)[0].saved.id  # a copy's first appearance is no change
        own = [item for item in items if item.commit != copied]
        return [*_before_copy(session, source, address), *own]
    return items


def _traced(session: Session, key: str, address: str, unit: Callable[[str], str]) -> list[Traced]:
    rows = session.past.rows(key, tracing.covering(address), within=address)
    return [tracing.traced(row, unit) for row in rows]


def _document(session: Session, held: Held) -> Document | None:
    try:
        return session.past.document(held.path, held.blob)
    except ReadError:
        return None


def describe_or_table(document: Document, address: str) -> None:
    """UsageError where an address can never hold anything."""
    if any(lies_in(known, address) for known in document.values):
        return
    keys = address.split(".")
    tables = (
        "positions",
        "approach",
        "tools",
        "photos",
        "fingers",
        "offsets",
        "axes",
        "stations",
        "legs",
        "grippers",
        "people",
    )
    if keys[0] in tables or (len(keys) == 1 and keys[0] in type(document.model).model_fields):
        return
    describe_known(type(document.model), address)


def _before_copy(session: Session, source: str, address: str) -> list[Traced]:
    """The source's own trace, up to the commit that was copied."""
    key, _, commit = source.partition("@")
    held = next((h for h in session.places("record") if h.key == key), None)
    unit = session.units_at(held.path, held.blob) if held else (lambda _: "")
    items = [
        i
        for i in _traced(session, key, address, unit)
        if session.past.order_of(commit) >= 0 and session.git.is_ancestor(i.commit, commit)
    ]
    return tracing.with_runs(items, revisions.runs(session, held), session.past) if held else items
