"""Papers of a record: what a set-up sheet and a tray plate need, gathered at one commit.

Nothing here draws and nothing writes. Record, cell, policy and photos are those
of the same commit, so that a paper shows what stood together then. A paper is
made of ink; pencil goes on a sheet only when it is asked for, and never into
metal.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from engine.book import figures
from engine.book.pencilling import MyPencil
from engine.book.revisions import Revisions, did_not_exist
from engine.book.session import Held, Session
from engine.book.stamps import StampedRevision, is_now, pencil_words, stamp_of
from engine.exports.dxf import to_dxf
from engine.exports.paper import SetUp, Stamp
from engine.exports.plan import TrayPlan, plan
from engine.exports.plate import draw
from engine.exports.shapes import PlateOptions
from engine.exports.sheet import to_pdf
from engine.exports.svg import to_svg
from engine.figures.inputs import Missing
from engine.repo.work_tree import read_file, replace
from engine.views import Draft, Finding, Paper, PlateFormat
from schemas.document import Document
from schemas.errors import Refused, UsageError
from schemas.number import read_typed
from schemas.record import Record
from schemas.units import unit_of

_FORMS = {"dxf": to_dxf, "svg": to_svg}


class Papers:
    """The papers of one record."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def sheet(self, at: str = "now", *, pencil: bool = False) -> Paper:
        """The set-up sheet of a record at a mark, as PDF.

        Refused where the person has pencil on what is printed and did not ask for it.
        """
        stood = self._stood("now" if at == "pencil" else at)
        pencil = pencil or at == "pencil"
        draft = self._draft_on(stood, pencil)
        set_up = self._set_up(stood, draft)
        stamp = set_up.stamp
        notes = [n for n in (stamp.superseded, stamp.pencil, stamp.others) if n]
        name, data = _name(stamp, "pdf"), to_pdf(set_up)
        held = self._held
        return Paper(name, data, held.name, stamp.commit, stamp.superseded, tuple(notes))

    def plate(
        self, form: PlateFormat, at: str = "now", *, kerf: str = "", relief: str = "",
        holes: str = "",
    ) -> Paper:  # fmt: skip
        """The tray plate of a record at a mark, as DXF or SVG.

        Refused where something is missing (with its addresses), where cuts would
        meet, and where the person has pencil on the record.
        """
        held, stood = self._held, self._stood(at)
        if is_now(held, stood) and MyPencil(held).draft():
            raise Refused(
                f"you have pencil on {held.name}, and a plate is cut from ink only",
                hint=f"`witnessmark ink {held.name} --reason TEXT` saves it, "
                f"`witnessmark pencil {held.name} --rub-out` rubs it out.",
            )
        stamp = stamp_of(held, stood, None)
        places = _holes(holes) if holes else None
        wish = PlateOptions(_length("--kerf", kerf), _length("--relief", relief), places)
        header = stood.record.record
        drawing = draw(self._tray(stood), header.units, wish, _title(stood.record, stamp))
        notes = tuple(n for n in (*drawing.remarks, stamp.superseded, stamp.others) if n)
        name, data = _name(stamp, form, "-plate"), _FORMS[form](drawing)
        return Paper(name, data, held.name, stamp.commit, stamp.superseded, notes)

    def _tray(self, stood: StampedRevision) -> TrayPlan:
        """The tray as it lies. Refused with the addresses of what is missing."""
        held = self._held
        try:
            return plan(figures.facts_of(self._session, stood.record, stood.point.commit))
        except Missing as error:
            raise Refused(
                f"the plate cannot be drawn without {', '.join(error.addresses)}",
                where=held.name,
                hint=f"Give these values first: `witnessmark set {held.name} ADDRESS=VALUE`; "
                "what begins with `cell:` stands in the cell's file.",
            ) from None

    def _stood(self, at: str) -> StampedRevision:
        session, past = self._session, Revisions(self._held)
        point = past.resolve(at)
        document = past.document_at(point)
        if document is None:
            raise did_not_exist(self._held, at)
        now = point.commit == session.head
        entries = session.entries if now else session.git.tree(point.commit)
        return StampedRevision(point, document, _record(document), entries)

    def _draft_on(self, stood: StampedRevision, pencil: bool) -> Draft | None:
        """My pencil where it lies on what is printed. Refused where nobody asked for it."""
        if not is_now(self._held, stood):
            if pencil:
                raise UsageError(
                    "pencil lies on what is inked now, not on an older mark",
                    hint="Leave out --pencil or --at.",
                )
            return None
        draft = MyPencil(self._held).draft()
        if draft and not pencil:
            raise Refused(
                f"{pencil_words(draft)}: {self._held.name} is not printed as if it were",
                hint=f"`witnessmark ink {self._held.name} --reason TEXT` first, "
                "or --pencil prints it beside the ink, marked as pencil.",
            )
        return draft

    def _set_up(self, stood: StampedRevision, draft: Draft | None) -> SetUp:
        document = MyPencil(self._held).document() if draft else stood.document
        facts = figures.facts_of(self._session, _record(document), stood.point.commit)
        return SetUp(
            stamp_of(self._held, stood, draft),
            facts,
            stood.document.values,
            {mark.address: mark.value for mark in draft.marks} if draft else {},
            lambda address: unit_of(facts.record, address, facts.cell),
            figures.of_document(self._session, document, stood.point.commit),
            self._findings() if is_now(self._held, stood) else (),
            {
                name: _photo(self._session, stood, photo.file, draft)
                for name, photo in facts.record.photos.items()
            },
        )

    def _findings(self) -> tuple[Finding, ...]:
        """What the rules say, without the figures: the sheet has them with their limits."""
        from engine.checks import check

        found = check(self._session, [self._held.name])
        return tuple(f for f in found if f.level != "note" and not f.rule.startswith("figure-"))


def save(paper: Paper, target: Path, *, over: bool) -> Path:
    """Write a paper whole, under its own name in a folder; where it is then.

    Refused where a file is there already, unless it is to be written over.
    """
    target = target / paper.name if target.is_dir() else target
    elsewhere = "-o FILE writes it elsewhere, -o - to standard output."
    if target.exists() and not target.is_file():
        raise UsageError(f"{target} is no ordinary file", hint=elsewhere)
    if target.exists() and not over:
        raise Refused(f"there is already a file {target}", hint="--force writes over it.")
    try:
        replace(target, paper.data)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}", hint=elsewhere) from error
    return target


def _title(record: Record, stamp: Stamp) -> str:
    """What is engraved on the plate: its mark, the drawing, and the revision it came from."""
    header = record.record
    drawing = " ".join(filter(None, (header.drawing, header.revision)))
    operation = f"op {header.operation}" if header.operation is not None else ""
    words = (record.tray.plate, drawing or header.part, operation, stamp.ink, stamp.short)
    return " ".join(filter(None, words))


def _name(stamp: Stamp, form: str, what: str = "") -> str:
    end = "-pencil" if stamp.pencil else ""
    return f"{stamp.document.replace('/', '-')}{what}-{stamp.short}{end}.{form}"


# what was typed


def _length(option: str, text: str) -> float:
    """A size of the plate in the record's unit; 0 where none was given."""
    if not text:
        return 0.0
    try:
        value = read_typed(text)
    except ValueError as error:
        raise UsageError(str(error), where=option) from None
    if not Decimal(0) <= value < Decimal(10_000):
        raise UsageError(f"{text} is no size that can be cut", where=option)
    return float(value)


def _holes(text: str) -> tuple[float, float]:
    diameter, at, inset = text.partition("@")
    if not at:
        raise UsageError(
            f"{text!r} does not say where the holes are",
            where="--holes",
            hint="--holes 6.6@12 are four holes of 6.6, their middles 12 from both edges.",
        )
    return _length("--holes", diameter), _length("--holes", inset)


# what stood


def _record(document: Document) -> Record:
    model = document.model
    if not isinstance(model, Record):
        raise UsageError(f"{document.path} is no record", hint="`list` shows the records.")
    return model


def _photo(
    session: Session, stood: StampedRevision, path: str, draft: Draft | None
) -> bytes | None:
    """The picture of that commit; a pencilled one may lie on disk only."""
    if path in stood.entries:
        return session.git.blob(stood.entries[path])
    if draft is None:
        return None
    try:
        return read_file(session.folder, path)
    except (UsageError, OSError):
        return None
