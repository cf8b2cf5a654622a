"""Figures of a record at a mark, with the cell and the policy as they stood there.

Nothing here writes. What was computed is kept by the texts it follows from, so it
can be forgotten and never be stale.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from engine.book.pencilling import MyPencil
from engine.book.revisions import Revisions, did_not_exist
from engine.book.session import Held, Session
from engine.cache import LruCache
from engine.figures import all_figures, figures_from, inputs_of
from engine.figures.changes import changed
from engine.figures.groups.lot import clock
from engine.figures.inputs import Facts, Missing
from engine.figures.kinds import Figure
from engine.views import Figure as FigureAnswer
from engine.views import FigureChange, FigureInput, Filled
from engine.views.wording import count
from engine.views.wording import figures as wording
from schemas.book import BookFile, Policy
from schemas.cell import Cell
from schemas.document import Document
from schemas.errors import ReadError, UsageError
from schemas.record import Record

if TYPE_CHECKING:
    from engine.views import Bites, CannotTell, RoundBars, TrayPlan, Which

_KEPT = 256
_log = logging.getLogger(__name__)
SourceTexts = tuple[str, str, str]
_figures: LruCache[tuple[Figure, ...]] = LruCache(_KEPT)


class RecordFigures:
    """The figures of one record, and what they follow from."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def all(self, at: str = "now") -> list[FigureAnswer]:
        """Every figure of the record at a mark, group by group."""
        return [*self._all(at)]

    def _all(self, at: str) -> tuple[Figure, ...]:
        document, commit = self._document_at(at)
        if document is None:
            raise did_not_exist(self._held, at)
        return of_document(self._session, document, commit)

    def _document_at(self, at: str) -> tuple[Document | None, str]:
        """The record at a mark, and the commit of cell and policy; pencil goes with the head."""
        if at == "pencil":
            return MyPencil(self._held).document(), self._session.head
        past = Revisions(self._held)
        point = past.resolve(at)
        return past.document_at(point), point.commit

    def facts(self, at: str = "now") -> Facts:
        """What the figures of the record at a mark are computed from."""
        document, commit = self._document_at(at)
        if document is None or not isinstance(document.model, Record):
            raise UsageError(f"{self._held.name} is no record at {at}: it has no figures")
        return facts_of(self._session, document.model, commit)

    def inputs_of(self, at: str, figure: FigureAnswer) -> list[FigureInput]:
        """What in the record, the cell or the policy a figure at a mark follows from."""
        named = (figure.name, figure.at)
        own = next((f for f in self._all(at) if (f.name, f.at) == named), None)
        return inputs_of(self.facts(at), own) if own else []

    def tray_plan(self, at: str = "now") -> TrayPlan | CannotTell:
        """The tray from above, for its picture."""
        from engine.figures import pictures  # asked for seldom

        return pictures.tray_plan(self.facts(at))

    def round_bars(self, at: str = "now", which: Which = "steady", stage: int = 0) -> RoundBars:
        """One round as bars: at full speed (stage 0), or at a stage of prove-out."""
        from engine.figures import pictures

        return pictures.staged_round(self.facts(at), which, stage)

    def bites(self, at: str = "now") -> Bites:
        """What jaws and fingers hold, for its picture."""
        from engine.figures import pictures

        return pictures.bites(self.facts(at))

    def touched_by(self, address: str) -> list[str]:
        """Names of the figures that follow from a value, my pencil counted."""
        return figures_from(self._all("pencil"), address)

    def consequences(self, start: str = "now", end: str = "pencil") -> list[FigureChange]:
        """Figures that changed noticeably between two marks, worst first; none but of records."""
        try:
            (old, was), (new, now) = (self._document_at(mark) for mark in (start, end))
        except ReadError:
            return []
        if old is None or new is None:
            return []
        return between(self._session, old, new, was, now)

    def refills(
        self, start: datetime, percent: float = 100.0, seconds: float = 0.0
    ) -> list[Filled]:
        """When each fill of the lot begins, runs empty and is done, by this machine's clock.

        `seconds` is what one refill takes. UsageError names what is missing.
        """
        try:
            fills = clock(self.facts("now"), start.astimezone(UTC), percent, seconds)
        except Missing as error:
            raise UsageError(
                f"cannot tell without {', '.join(error.addresses)}",
                where=self._held.name,
                hint="Set what is missing; `cell:` stands for the record's cell.",
            ) from None
        # Each moment is put on the clock by itself: the offset may change over the night.
        return [
            Filled(f.number, f.blanks, *(m.astimezone() for m in (f.begins, f.empty, f.done)))
            for f in fills
        ]


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


# consequences


def between(
    session: Session, old: Document, new: Document, was: str = "", now: str = ""
) -> list[FigureChange]:
    """The same between two texts of a record, each beside the cell and policy of a commit."""
    if not isinstance(old.model, Record) or not isinstance(new.model, Record):
        return []
    return changed(of_document(session, old, was), of_document(session, new, now))


def worse_in_words(session: Session, old: Document, new: Document, most: int = 6) -> list[str]:
    """What an ink makes worse, for the person; a fault of a figure never keeps an ink back."""
    try:
        found = [c for c in between(session, old, new) if wording.worsened(c)]
    except Exception:  # the ink is on the disk: a fault of a figure must not hide that
        _log.exception("figures failed on %s", new.path)
        return ["the figures failed on this record; the log says how"]
    lines = [wording.change_in_words(change) for change in found[:most]]
    left = len(found) - len(lines)
    return [*lines, f"and {count(left, 'more figure')}; `figures` lists them"] if left else lines
