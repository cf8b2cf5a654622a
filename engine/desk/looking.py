"""Looking: what stood at a mark, what differs, and the life of a value.

Nothing here writes. A comparison says what it compared; a moment is echoed as
it was resolved.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime

from engine.answers import Change, Comparison, Shown, Traced
from engine.desk import pencilling, points
from engine.desk.points import Point
from engine.desk.shelf import Held, Shelf
from engine.history import trace as tracing
from engine.history.diff import changes_between, position_changes
from engine.history.files import read_file
from schemas.address import Value, grow, lies_in
from schemas.document import Document
from schemas.errors import ReadError, UsageError
from schemas.record import is_link
from schemas.typed import describe_known


def show(shelf: Shelf, held: Held, at: str) -> Shown:
    """A document at a mark, as nested tables."""
    if at == "pencil":
        values = pencilling.values_in_pencil(shelf, held)
        return Shown(held.name, shelf.head, at, grow(values))
    point = points.resolve(shelf, held, at)
    if not point.blob:
        raise UsageError(f"{held.name} did not exist at {at}", hint="`marks` lists when it did.")
    document = points.document_at(shelf, point)
    assert document is not None
    return Shown(held.name, point.commit, at or "now", document.tree)


def compare(shelf: Shelf, held: Held, start: str, end: str) -> Comparison:
    """What differs between two marks; `pencil` is my pencil and the files on disk."""
    return between(shelf, held, _point(shelf, held, start), _point(shelf, held, end))


def _point(shelf: Shelf, held: Held, mark: str) -> Point:
    if mark == "pencil":
        return Point("pencil", "", held.path, held.blob)
    return points.resolve(shelf, held, mark)


def since_run(shelf: Shelf, held: Held, number: int | None) -> Comparison:
    """What changed since the stop of a run: the last stopped one, or the one named."""
    runs = points.runs(shelf, held)
    chosen = [r for r in runs if (r.number == number if number is not None else r.stopped)]
    if not chosen:
        which = f"run {number}" if number is not None else "run that was stopped"
        numbers = ", ".join(str(run.number) for run in runs) or "none"
        raise UsageError(f"{held.name} has no {which}", hint=f"Its runs: {numbers}.")
    run = chosen[-1]
    words = "its stop" if run.stopped else "its start, it is still open"
    when = run.stopped or run.started
    label = f"run {run.number} ({words}, {when.isoformat(timespec='minutes')})"
    start = points.at_commit(shelf, held, run.end_commit or run.commit, label)
    return between(shelf, held, start, points.resolve(shelf, held, "now"))


def since_sign_off(shelf: Shelf, held: Held) -> Comparison:
    """What changed since the last sign-off."""
    done = points.sign_offs(shelf, held)
    if not done:
        raise UsageError(f"{held.name} was never signed off")
    head = done[-1].sign_off
    label = f"sign-off {len(done)} ({head.at.isoformat(timespec='minutes')})"
    return between(
        shelf,
        held,
        points.at_commit(shelf, held, head.commit, label),
        points.resolve(shelf, held, "now"),
    )


def since(shelf: Shelf, held: Held, moment: datetime) -> Comparison:
    """What changed since a moment."""
    start = points.before(shelf, held, moment, moment.isoformat(timespec="seconds"))
    return between(shelf, held, start, points.resolve(shelf, held, "now"))


def between(shelf: Shelf, held: Held, start: Point, end: Point) -> Comparison:
    """Value by value, positions as vectors, program and photos by their hash."""
    old, new = points.values_at(shelf, start), points.values_at(shelf, end)
    if end.label == "pencil":
        new = pencilling.values_in_pencil(shelf, held)
    elif start.label == "pencil":
        old = pencilling.values_in_pencil(shelf, held)
    changes, respelt = changes_between(old, new, shelf.units_at(held.path, held.blob))
    changes += _contents(shelf, start, old, end, new)
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
    shelf: Shelf, start: Point, old: dict[str, Value], end: Point, new: dict[str, Value]
) -> list[Change]:
    """Linked files whose bytes differ, as `program.content`, `photos.jaws.content`."""
    found = []
    for address in [a for a in {**old, **new} if is_link(a)]:
        one, other = (
            _bytes_at(shelf, start, old.get(address)),
            _bytes_at(shelf, end, new.get(address)),
        )
        if one != other and old and new:
            name = address.removesuffix("file") + "content"
            found.append(Change(name, _sha(one), _sha(other), "sha256", None))
    return found


def _bytes_at(shelf: Shelf, point: Point, path: Value | None) -> bytes | None:
    if not isinstance(path, str):
        return None
    if point.commit == "":
        try:
            return read_file(shelf.folder, path)
        except UsageError:
            return None
    entries = shelf.entries if point.commit == shelf.head else shelf.git.tree(point.commit)
    return shelf.git.blob(entries[path]) if path in entries else None


def _sha(data: bytes | None) -> str | None:
    return hashlib.sha256(data).hexdigest() if data is not None else None


def trace(shelf: Shelf, held: Held, address: str, *, through_copies: bool) -> list[Traced]:
    """Every change of a value, a position or a section, oldest first."""
    address = held.present(address)
    document = _document(shelf, held)
    items = _traced(shelf, held.key, address, shelf.units_at(held.path, held.blob))
    if not items and document is not None:
        describe_or_table(document, address)
    source = document.values.get("record.copied_from") if document else None
    items = tracing.with_runs(items, points.runs(shelf, held), shelf.past)
    if through_copies and isinstance(source, str):
        copied = points.life(shelf, held)[0].saved.id  # a copy's first appearance is no change
        own = [item for item in items if item.commit != copied]
        return [*_before_copy(shelf, source, address), *own]
    return items


def _traced(shelf: Shelf, key: str, address: str, unit: Callable[[str], str]) -> list[Traced]:
    rows = shelf.past.rows(key, tracing.covering(address), within=address)
    return [tracing.traced(row, unit) for row in rows]


def _document(shelf: Shelf, held: Held) -> Document | None:
    try:
        return shelf.past.document(held.path, held.blob)
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


def _before_copy(shelf: Shelf, source: str, address: str) -> list[Traced]:
    """The source's own trace, up to the commit that was copied."""
    key, _, commit = source.partition("@")
    held = next((h for h in shelf.places("record") if h.key == key), None)
    unit = shelf.units_at(held.path, held.blob) if held else (lambda _: "")
    items = [
        i
        for i in _traced(shelf, key, address, unit)
        if shelf.past.order_of(commit) >= 0 and shelf.git.is_ancestor(i.commit, commit)
    ]
    return tracing.with_runs(items, points.runs(shelf, held), shelf.past) if held else items
