"""In which step of a document's life a value changed last, found from the newest step back.

A value changed in a step where it differs from that of every parent, as in
`engine.log.trace`, the plain walk that is the oracle of this one. This one
compares the lines of the texts first and reads values only where a wanted table
was touched: a long life costs little.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from engine.cache import LruCache
from engine.checks.view import DocumentView
from engine.log.attribution import changed_against_all, differ
from engine.log.past import DocumentChange
from schemas.address import Value, lies_in

_HEADER = re.compile(rb"\s*\[([A-Za-z0-9_.\"' \t-]+)\]\s*(?:#.*)?")
_LAST: LruCache[int | None] = LruCache(10_000)
_TOUCHED: LruCache[frozenset[str]] = LruCache(100_000)


def last_change(view: DocumentView, table: str, counts: Callable[[str], bool]) -> int | None:
    """Index of the last step that changed a value in a table for which `counts` holds.

    None where nothing did since the document began. `counts` must depend on the
    address alone: the answer is kept by it and by the life's last commit.
    """
    life = view.life
    if not life:
        return None
    key = (view.held.key, life[-1].saved.id, len(life), table, counts)
    return _LAST.get(key, lambda: _last_change(view, table, counts))


def _last_change(view: DocumentView, table: str, counts: Callable[[str], bool]) -> int | None:
    def covers(address: str) -> bool:
        return lies_in(address, table) and counts(address)

    for index in range(len(view.life) - 1, -1, -1):
        step = view.life[index]
        if not any(step.olds):
            return None
        if _may_touch(view, step, table) and any(changed_in(view, index, covers)):
            return index
    return None


def changed_in(
    view: DocumentView, index: int, covers: Callable[[str], bool]
) -> Iterator[tuple[str, Value | None, Value | None]]:
    """Covered values that a step changed: address, old, new; of a merge by hand also those
    that it decided. What a sync decides lies between two changes of people, told as such.
    """
    step, past = view.life[index], view.session.past
    if len(step.olds) > 1 and not step.saved.whole:
        rows = past.rows(view.held.key, covers)
        yield from ((r.address, r.old, r.new) for r in rows if r.saved.id == step.saved.id)
        return
    new = past.values(step.path, step.new)
    if new is None:
        return  # no TOML at all: the next readable text tells what changed
    yield from changed_against_all(past.values_before(view.held.key, step), new, differ, covers)


def _may_touch(view: DocumentView, step: DocumentChange, table: str) -> bool:
    """Whether a step touched a line of a table, or of one that may hold it."""
    touched = _TOUCHED.get((step.olds, step.new), lambda: _touched(view, step))
    return any(lies_in(t, table) or lies_in(table, t) or not t for t in touched)


def _touched(view: DocumentView, step: DocumentChange) -> frozenset[str]:
    ids = (*step.olds, step.new)
    *olds, new = [_by_table(view.session.git.blob(oid)) if oid else {} for oid in ids]
    return frozenset(t for old in olds for t in {**old, **new} if old.get(t) != new.get(t))


def _by_table(data: bytes) -> dict[str, list[bytes]]:
    """The lines of a text by the table they stand in; those in no table stand in ``""``."""
    lines: list[bytes] = []
    found = {"": lines}
    for line in data.splitlines():
        header = _HEADER.fullmatch(line)
        if header:
            name = re.sub(rb"[ \t\"']", b"", header[1]).decode("utf-8", "replace")
            lines = found.setdefault(name, [])
        lines.append(line)
    return found
