"""Questions about the past of the whole book: who changed what, what stood where, what moves.

Rows come from history as they are; nothing here is guessed. A day is that of the
reader's clock. What stood in the book at a moment is what its head had then.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache
from itertools import islice

from engine.book import taken_out
from engine.book.run_log import RunLog
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.log.canonical_text import unspell
from engine.log.diff import delta_of
from engine.log.document_cache import DocumentCache
from engine.log.past import ChangeQuery, ValueChange
from engine.log.recent_texts import RecentTexts
from engine.log.trace import traced
from engine.views import Creep, HistoryPage, Moved, RunState, Stood, Traced
from schemas.address import Value, lies_in
from schemas.document import kind_of
from schemas.errors import ReadError, UsageError
from schemas.number import is_measurable
from schemas.record import Record
from schemas.units import unit_in
from schemas.upgrade import covers, present

UnitOf = Callable[[str], str]
_AT_ONCE = 400  # texts
_UNITS = "units "  # what is kept of records begins so
_SAID: LruCache[tuple[str, str] | None] = LruCache(5_000)  # by path and text


def covering(pattern: str) -> Callable[[str], bool] | None:
    """Whether a pattern covers an address by its present or an earlier name; None for all."""
    return cache(lambda address: covers("record", pattern, address)) if pattern else None


def history(session: Session, wanted: ChangeQuery, page: int, per_page: int) -> HistoryPage:
    """One page of all changes of values, newest first."""
    if page < 1 or per_page < 1:
        raise UsageError("pages are counted from 1, and hold at least one change")
    start = (page - 1) * per_page
    found = list(islice(every(session, wanted), start, start + per_page + 1))
    return HistoryPage(tuple(found[:per_page]), page, len(found) > per_page)


def every(session: Session, wanted: ChangeQuery) -> Iterator[Traced]:
    """All changes of values, newest first, one by one: memory does not grow with their number."""
    units, past = _Units(session), session.past
    try:
        for row in past.rows_of_all(replace(wanted, now=session.clock())):
            yield traced(row, units.of(row.key), past.saved)
    finally:
        units.keep()


class _Units:
    """The unit of an address, by document; of one that is gone, in the text that stood last.

    Of a record, unit and cell are enough. They are kept by its identity with the text that said
    so: a record that was not changed is not read again.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._held: dict[str, Held] = {held.key: held for held in session.places()}
        self._known: dict[str, UnitOf] = {}
        self._alike: dict[tuple[str, str], UnitOf] = {}  # by unit and cell
        self._recalled = False
        self._fresh: dict[str, str] = {}

    def of(self, key: str) -> UnitOf:
        """Unit by address in one document."""
        if key not in self._known:
            self._known[key] = self._look(key)
        return self._known[key]

    def keep(self) -> None:
        """Keep what was read for the next question."""
        self._session.past.keep(self._fresh)
        self._fresh = {}

    def _look(self, key: str) -> UnitOf:
        held = self._held.get(key) or self._gone(key)
        if held is None:
            return lambda _: ""
        if not held.is_record:
            return cache(held.units())
        said = self._said(held)
        if said is None:
            return lambda _: ""
        if said not in self._alike:
            cell = self._session.cell(said[1])
            self._alike[said] = cache(lambda address: unit_in(Record, address, said[0], cell))
        return self._alike[said]

    def _said(self, held: Held) -> tuple[str, str] | None:
        """Unit of length and cell of a record; None where its text cannot be used."""
        text = (held.path, held.blob)
        if text not in _SAID and not self._recalled:
            self._recalled = True
            for kept in self._session.past.recall(_UNITS).values():
                path, blob, *said = json.loads(kept)
                _SAID.put((path, blob), (said[0], said[1]) if said else None)
        return _SAID.get(text, lambda: self._read(held))

    def _read(self, held: Held) -> tuple[str, str] | None:
        try:
            model = held.read().model
        except ReadError:
            model = None
        found = (model.record.units, model.record.cell) if isinstance(model, Record) else None
        told = json.dumps([held.path, held.blob, *(found or ())], ensure_ascii=True)
        self._fresh[f"{_UNITS}{held.key}"] = told
        return found

    def _gone(self, key: str) -> Held | None:
        """A document as it stood last; None where its identity stands twice at the head."""
        try:
            return taken_out.held_of(self._session, key)
        except UsageError:
            return None

    def name(self, key: str) -> str:
        """The present name of a document, or its last one where it is gone."""
        held = self._held.get(key) or self._gone(key)
        return held.name if held else key


# what stood on a day


def stood(
    session: Session, address: str, below: Decimal | None, above: Decimal | None, day: datetime
) -> list[Stood]:
    """Records in which a value lay in a range on a day, by name, with the runs of that day."""
    if below is None and above is None:
        raise UsageError("within which range?", hint="--below NUMBER, --above NUMBER, or both.")
    start = day.replace(hour=0, minute=0, second=0, microsecond=0)
    end = start + timedelta(days=1)

    def fits(value: Value | None) -> bool:
        return (
            is_measurable(value)
            and isinstance(value, int | Decimal)
            and (below is None or value < below)
            and (above is None or value > above)
        )

    address = present("record", address)
    units, found = _Units(session), dict[str, Stood]()
    heads = _heads(session, start, end)
    order = session.past.order_of
    span = (order(heads[0]), order(heads[-1])) if heads else (-1, -1)
    seen = _seen(session, heads)
    while some := list(islice(seen, _AT_ONCE)):
        texts = RecentTexts(session.git)
        texts.fetch(session.git, [blob for _, _, blob in some])
        read = DocumentCache(texts)
        for commit, path, blob in some:
            value = _value(read, path, blob, address)
            if not fits(value) or (key := read.key(path, blob)) in found:
                continue
            runs = _runs_with(session, key, path, address, fits, span)
            unit = units.of(key)(address)
            assert isinstance(value, int | Decimal)
            found[key] = Stood(units.name(key), address, Decimal(value), unit, commit, runs)
    units.keep()
    return sorted(found.values(), key=lambda item: item.record)


def _heads(session: Session, start: datetime, end: datetime) -> list[str]:
    """What the head was in a span of time, or may have been where stamps tell nothing."""
    heads, now = [], session.clock()
    first = session.past.head_at(start, now)
    commit = session.past.head_at(end - timedelta(microseconds=1), now, doubtful=True)
    while commit:
        heads.append(commit)
        saved = session.past.saved(commit)
        assert saved is not None
        if commit == first:
            break
        commit = saved.parents[0] if saved.parents else ""
    return heads[::-1]


def _seen(session: Session, heads: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """(commit, path, blob) of each text of a record that some heads had, each once."""
    seen: set[tuple[str, str]] = set()
    for commit in heads:
        for path, blob in session.git.tree(commit).under("records"):
            if (path, blob) not in seen and kind_of(path) == "record":
                seen.add((path, blob))
                yield commit, path, blob


def _value(texts: DocumentCache, path: str, blob: str, address: str) -> Value | None:
    """One value of a text, without keeping the rest."""
    spelt = (texts.spelt(path, blob) or {}).get(address)
    return None if spelt is None else unspell(spelt)


def _runs_with(
    session: Session, key: str, path: str, address: str, fits: Callable[[Value | None], bool],
    heads: tuple[int, int],
) -> tuple[int, ...]:  # fmt: skip
    """Numbers of the runs that went on between two heads and whose revision had such a value."""
    found, order = [], session.past.order_of
    for run in RunLog(Held(session, "", path, key, "")).all():
        steps = [order(step.saved.id) for step in session.past.life(f"runs/{key}/{run.id}")]
        if steps and steps[0] <= heads[1] and (run.stopped is None or steps[-1] > heads[0]):
            places = [
                session.past.place_at(c, key, path) for c in (run.commit, run.end_commit) if c
            ]
            if any(b and fits(_value(session.past.texts, p, b, address)) for p, b in places):
                found.append(run.number)
    return tuple(found)


# what moves


def moved(session: Session, wanted: ChangeQuery) -> list[Moved]:
    """Values by how often people changed them after they were first written, most often first.

    A merge that decided is no change that somebody made, but where it ends is what stands.
    """
    units = _Units(session)
    rows: dict[tuple[str, str], list[ValueChange]] = {}
    asked = replace(wanted, replaced=True, now=session.clock())
    for row in session.past.rows_of_all(asked):
        rows.setdefault((row.key, row.address), []).append(row)
    found = [
        _moved(key, address, own, units)
        for (key, address), own in rows.items()
        if any(row.decided is None for row in own)
    ]
    units.keep()
    return sorted(found, key=lambda m: (-m.times, m.record, m.address))


def _moved(key: str, address: str, rows: list[ValueChange], units: _Units) -> Moved:
    newest, oldest = rows[0], rows[-1]
    net = delta_of(oldest.old, newest.new)
    made = [row for row in rows if row.decided is None]
    reasons = sum(bool(row.saved.reason) for row in made)
    unit = units.of(key)(address)
    name = units.name(key)
    return Moved(name, address, unit, len(made), net, newest.saved.when, reasons)


def creep(held: Held, address: str) -> list[Creep]:
    """How taught values went from run to run, what crept most first.

    Values with fewer than three runs are left out.
    """
    address = held.present(address)
    runs = RunLog(held).all()
    series: dict[str, list[tuple[int, Decimal]]] = {}
    for run in runs:
        for known, value in _at_run(held, run).items():
            if is_measurable(value) and lies_in(known, address):
                series.setdefault(known, []).append((run.number, Decimal(value)))  # type: ignore[arg-type]
    unit = _Units(held.session).of(held.key)
    found = [
        _creep(held.name, known, unit(known), values)
        for known, values in series.items()
        if len(values) > 2
    ]
    return sorted(found, key=lambda item: (-abs(item.slope), -item.spread))


def _at_run(held: Held, run: RunState) -> Mapping[str, Value]:
    path, blob = held.session.past.place_at(run.end_commit or run.commit, held.key, held.path)
    return held.session.past.values(path, blob) or {}


def _creep(record: str, address: str, unit: str, values: list[tuple[int, Decimal]]) -> Creep:
    """Least squares over the numbers of the runs."""
    xs = [float(n) for n, _ in values]
    base = values[0][1]
    ys = [float(v - base) for _, v in values]  # small differences keep their digits
    middle_x, middle_y = sum(xs) / len(xs), sum(ys) / len(ys)
    across = sum((x - middle_x) ** 2 for x in xs)
    slope = 0.0
    if across:
        slope = sum((x - middle_x) * (y - middle_y) for x, y in zip(xs, ys, strict=True)) / across
    left = [y - middle_y - slope * (x - middle_x) for x, y in zip(xs, ys, strict=True)]
    scatter = math.sqrt(sum(y * y for y in left) / len(left))
    first, last = base, values[-1][1]
    spread = max(ys) - min(ys)
    return Creep(record, address, unit, len(values), first, last, slope, spread, scatter)
