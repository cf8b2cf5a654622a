"""Figures of a record at a mark, with the cell and the policy as they stood there.

Nothing here writes but the two acts at the end, which pencil what follows from
taught values, each with the note `derived`. What was computed is kept by the
texts it follows from, so it can be forgotten and never be stale.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal

from engine.book import pencilling, revisions
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.figures import all_figures, wording
from engine.figures.groups.lot import clock
from engine.figures.model import MM_PER_INCH, Facts, Figure, Missing, both
from engine.views import Expected, FigureChange, Filled, FittedTray
from schemas.address import Value
from schemas.book import BookFile, Policy
from schemas.cell import Cell
from schemas.document import Document
from schemas.errors import ReadError, Refused, UsageError
from schemas.record import Record
from schemas.units import unit_of

DERIVED = "derived"
_KEPT = 256
_log = logging.getLogger(__name__)
SourceTexts = tuple[str, str, str]
_figures: LruCache[tuple[Figure, ...]] = LruCache(_KEPT)


# figures at a mark


def figures(session: Session, held: Held, at: str) -> list[Figure]:
    """Every figure of a record at a mark, group by group."""
    document, commit = _document_at(session, held, at)
    if document is None:
        raise UsageError(f"{held.name} did not exist at {at}", hint="`marks` lists when it did.")
    return list(of_document(session, document, commit))


def of_document(session: Session, document: Document, commit: str = "") -> tuple[Figure, ...]:
    """Figures of a record's text beside the cell and the policy of a commit (the head)."""
    model = document.model
    if not isinstance(model, Record):
        raise UsageError(f"{document.path} is no record: it has no figures")
    key = texts_of(session, document, model.record.cell, commit)
    return _figures.get(key, lambda: tuple(all_figures(facts_of(session, model, commit))))


def texts_of(session: Session, document: Document, cell: str, commit: str = "") -> SourceTexts:
    """The texts that the figures of a record follow from: its own, its cell's, the policy's."""
    entries = _entries(session, commit)
    own = hashlib.sha1(document.bytes).hexdigest()
    return own, entries.get(f"cells/{cell}.toml", ""), entries.get("book.toml", "")


def facts_of(session: Session, record: Record, commit: str = "") -> Facts:
    """What the figures of a record are computed from; what cannot be read is missing."""
    entries = _entries(session, commit)
    cell = _model(session, entries, f"cells/{record.record.cell}.toml")
    book = _model(session, entries, "book.toml")
    policy = book.policy if isinstance(book, BookFile) else Policy()
    return Facts(record, cell if isinstance(cell, Cell) else None, policy)


def _entries(session: Session, commit: str) -> Mapping[str, str]:
    return session.entries if commit in ("", session.head) else session.git.tree(commit)


def _model(session: Session, entries: Mapping[str, str], path: str) -> object:
    try:
        return session.past.document(path, entries[path]).model if path in entries else None
    except ReadError:
        return None


def _document_at(session: Session, held: Held, at: str) -> tuple[Document | None, str]:
    """The record at a mark, and the commit of cell and policy; pencil goes with the head."""
    if at == "pencil":
        return pencilling.document_in_pencil(session, held), session.head
    point = revisions.resolve(session, held, at)
    return revisions.document_at(session, point), point.commit


def facts(session: Session, held: Held, at: str) -> Facts:
    """What the figures of a record at a mark are computed from, for pictures of the set-up."""
    document, commit = _document_at(session, held, at)
    if document is None or not isinstance(document.model, Record):
        raise UsageError(f"{held.name} is no record at {at}: it has no figures")
    return facts_of(session, document.model, commit)


# consequences


def consequences(session: Session, held: Held, start: str, end: str) -> list[FigureChange]:
    """Figures that changed noticeably between two marks, worst first; only records have them."""
    try:
        (old, was), (new, now) = (_document_at(session, held, mark) for mark in (start, end))
    except ReadError:
        return []
    if old is None or new is None:
        return []
    return between(session, old, new, was, now)


def between(
    session: Session, old: Document, new: Document, was: str = "", now: str = ""
) -> list[FigureChange]:
    """The same between two texts of a record, each beside the cell and policy of a commit."""
    if not isinstance(old.model, Record) or not isinstance(new.model, Record):
        return []
    return wording.changed(of_document(session, old, was), of_document(session, new, now))


def worse_in_words(session: Session, old: Document, new: Document, most: int = 6) -> list[str]:
    """What an ink makes worse, for the person; a fault of a figure never keeps an ink back."""
    try:
        found = [c for c in between(session, old, new) if wording.worsened(c)]
    except Exception:
        _log.exception("figures failed on %s", new.path)
        return ["the figures failed on this record; the log says how"]
    lines = [wording.change_in_words(change) for change in found[:most]]
    left = len(found) - len(lines)
    return [*lines, f"and {left} more figures; `figures` lists them"] if left else lines


# what follows from taught values


def expected(session: Session, held: Held) -> list[Expected]:
    """Positions that follow from the first taught one of each place, my pencil counted."""
    from engine.figures.groups.agreement import expected_positions

    facts = _my_facts(session, held)
    found = []
    for address, value in expected_positions(facts).items():
        _, station, axis = address.split(".")
        unit = unit_of(facts.record, address, facts.cell)
        taught = facts.record.positions.get(station, {}).get(axis)
        found.append(Expected(address, _typed(value, unit), unit, taught))
    return found


def pencil_expected(session: Session, held: Held, addresses: Sequence[str]) -> None:
    """Pencil expected positions: those named, or all that nobody taught yet."""
    there = {item.address: item for item in expected(session, held)}
    unknown = [address for address in addresses if address not in there]
    if unknown:
        raise UsageError(
            f"nothing is expected of {unknown[0]}", hint="`expected` lists what follows."
        )
    chosen = addresses or [a for a, item in there.items() if item.taught is None]
    if not chosen:
        raise Refused(
            "every position that follows from another is taught already",
            where=held.name,
            hint="Name the addresses to be put over the taught values.",
        )
    pencilling.put_values(session, held, {a: there[a].value for a in chosen}, DERIVED)


def fitted_tray(session: Session, held: Held) -> FittedTray:
    """What the taught pockets say about the grid of the tray, pitches in the record's unit."""
    from engine.figures.geometry import grid
    from engine.figures.geometry.taught_pockets import taught_points
    from engine.figures.groups.tray_fit import fit_tray, in_words, name_of

    facts = _my_facts(session, held)
    try:
        taught, size = both(lambda: taught_points(facts), lambda: grid.size(facts))
        (tolerance,) = facts.of_policy("agreement_tolerance")
    except Missing as error:
        raise Refused(
            f"missing for a fit: {error}", where=held.name, hint="Set it, then ask again."
        ) from None
    fit = fit_tray(taught, tolerance, (size[1], size[0]))
    unit = facts.record.record.units
    off = {name_of(pocket): off for pocket, off in fit.left_out.items()}
    return FittedTray(
        fit.verdict,
        in_words(fit),
        _length(fit.pitch_across, unit),
        _length(fit.pitch_along, unit),
        unit,
        fit.rotation,
        fit.skew,
        off,
        tuple(map(name_of, fit.suspects)),
        name_of(fit.teach_next) if fit.teach_next else "",
    )


def pencil_tray_fit(session: Session, held: Held) -> None:
    """Pencil the fitted pitches. Refused where the taught pockets do not agree."""
    fit = fitted_tray(session, held)
    if fit.verdict == "does not fit":
        raise Refused(
            f"the taught pockets do not agree: {fit.words}", where=held.name, hint="Teach it again."
        )
    pitches = {"tray.pitch_across": fit.pitch_across, "tray.pitch_along": fit.pitch_along}
    values: dict[str, Value] = {a: v for a, v in pitches.items() if v is not None}
    if not values:
        raise Refused("too few pockets are taught for a pitch", where=held.name, hint=fit.words)
    pencilling.put_values(session, held, values, DERIVED)


def refills(
    session: Session, held: Held, start: datetime, percent: float, seconds: float
) -> list[Filled]:
    """When each fill of the lot begins, runs empty and is done, by this machine's clock.

    `seconds` is what one refill takes. UsageError names what is missing.
    """
    try:
        fills = clock(facts(session, held, "now"), start.astimezone(UTC), percent, seconds)
    except Missing as error:
        raise UsageError(
            f"cannot tell without {', '.join(error.addresses)}",
            where=held.name,
            hint="Set what is missing; `cell:` stands for the record's cell.",
        ) from None
    # Each moment is put on the clock by itself: the offset may change over the night.
    return [
        Filled(f.number, f.blanks, *(m.astimezone() for m in (f.begins, f.empty, f.done)))
        for f in fills
    ]


def _my_facts(session: Session, held: Held) -> Facts:
    model = pencilling.document_in_pencil(session, held).model
    if not isinstance(model, Record):
        raise UsageError(f"{held.name} is no record")
    return facts_of(session, model)


def _length(value: float | None, unit: str) -> Decimal | None:
    if value is None:
        return None
    return _typed(value / MM_PER_INCH if unit == "in" else value, unit)


def _typed(value: float, unit: str) -> Decimal:
    """As a person would type it: to 0.001 mm or degree, to 0.0001 inch."""
    return round(Decimal(repr(value)), 4 if unit == "in" else 3) + Decimal(0)
