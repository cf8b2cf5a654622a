"""Papers of a record: what a set-up sheet and a tray plate need, gathered at one commit.

Nothing here draws and nothing writes. Record, cell, policy and photos are those
of the same commit, so that a paper shows what stood together then. A paper is
made of ink; pencil goes on a sheet only when it is asked for, and never into
metal.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from engine.book import figures, pencilling, revisions
from engine.book.session import Held, Session
from engine.book.stamps import StampedRevision, is_now, pencil_words, stamp_of
from engine.exports.dxf import to_dxf
from engine.exports.paper import Paper, SetUp, Stamp
from engine.exports.plan import plan
from engine.exports.plate import draw
from engine.exports.shapes import PlateOptions
from engine.exports.sheet import to_pdf
from engine.exports.svg import to_svg
from engine.figures.model import Missing
from engine.repo.work_tree import read_file
from engine.views import Draft, Finding
from schemas.document import Document
from schemas.errors import Refused, UsageError
from schemas.number import read_typed
from schemas.record import Record
from schemas.units import unit_of

PlateFormat = Literal["dxf", "svg"]
_FORMS = {"dxf": to_dxf, "svg": to_svg}


def sheet(session: Session, held: Held, at: str, *, pencil: bool) -> Paper:
    """The set-up sheet of a record at a mark, as PDF.

    Refused where the person has pencil on what is printed and did not ask for it.
    """
    stood = _stood(session, held, "now" if at == "pencil" else at)
    pencil = pencil or at == "pencil"
    draft = _draft_on(session, held, stood, pencil)
    set_up = _set_up(session, held, stood, draft)
    stamp = set_up.stamp
    notes = [n for n in (stamp.superseded, stamp.pencil, stamp.others) if n]
    return Paper(_name(stamp, "pdf"), to_pdf(set_up), held.name, stamp.commit, stamp.superseded,
                 tuple(notes))  # fmt: skip


def plate(
    session: Session, held: Held, form: PlateFormat, at: str, *, kerf: str, relief: str, holes: str
) -> Paper:
    """The tray plate of a record at a mark, as DXF or SVG.

    Refused where something is missing (with its addresses), where cuts would
    meet, and where the person has pencil on the record.
    """
    stood = _stood(session, held, at)
    if is_now(held, stood) and pencilling.draft(session, held):
        raise Refused(
            f"you have pencil on {held.name}, and a plate is cut from ink only",
            hint=f"`witnessmark ink {held.name} --reason TEXT` saves it, "
            f"`witnessmark pencil {held.name} --rub-out` takes it away.",
        )
    stamp = stamp_of(session, held, stood, None)
    wish = PlateOptions(
        _length("--kerf", kerf), _length("--relief", relief), _holes(holes) if holes else None
    )
    try:
        lying = plan(figures.facts_of(session, stood.record, stood.point.commit))
    except Missing as error:
        raise Refused(
            f"the plate cannot be drawn without {', '.join(error.addresses)}",
            where=held.name,
            hint=f"Give these values first: `witnessmark set {held.name} ADDRESS=VALUE`; "
            "what begins with `cell:` stands in the cell's file.",
        ) from None
    header = stood.record.record
    drawing = draw(lying, header.units, wish, _title(stood.record, stamp))
    notes = tuple(n for n in (*drawing.remarks, stamp.superseded, stamp.others) if n)
    return Paper(_name(stamp, form, "-plate"), _FORMS[form](drawing), held.name, stamp.commit,
                 stamp.superseded, notes)  # fmt: skip


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


def _stood(session: Session, held: Held, at: str) -> StampedRevision:
    point = revisions.resolve(session, held, at)
    if not point.blob:
        raise UsageError(f"{held.name} did not exist at {at}", hint="`marks` lists when it did.")
    document = session.past.document(point.path, point.blob)
    record = _record(document)
    entries = session.entries if point.commit == session.head else session.git.tree(point.commit)
    return StampedRevision(point, document, record, entries)


def _draft_on(session: Session, held: Held, stood: StampedRevision, pencil: bool) -> Draft | None:
    """My pencil where it lies on what is printed. Refused where nobody asked for it."""
    if not is_now(held, stood):
        if pencil:
            raise UsageError(
                "pencil lies on what is inked now, not on an older mark",
                hint="Leave out --pencil or --at.",
            )
        return None
    draft = pencilling.draft(session, held)
    if draft and not pencil:
        raise Refused(
            f"{pencil_words(draft)}: {held.name} is not printed as if it were",
            hint=f"`witnessmark ink {held.name} --reason TEXT` first, "
            "or --pencil prints it beside the ink, marked as pencil.",
        )
    return draft


def _set_up(session: Session, held: Held, stood: StampedRevision, draft: Draft | None) -> SetUp:
    document = pencilling.document_in_pencil(session, held) if draft else stood.document
    facts = figures.facts_of(session, _record(document), stood.point.commit)
    return SetUp(
        stamp_of(session, held, stood, draft),
        facts,
        stood.document.values,
        {mark.address: mark.value for mark in draft.marks} if draft else {},
        lambda address: unit_of(facts.record, address, facts.cell),
        figures.of_document(session, document, stood.point.commit),
        _findings(session, held) if is_now(held, stood) else (),
        {
            name: _photo(session, stood, photo.file, draft)
            for name, photo in facts.record.photos.items()
        },
    )


def _record(document: Document) -> Record:
    model = document.model
    if not isinstance(model, Record):
        raise UsageError(f"{document.path} is no record", hint="`list` shows the records.")
    return model


def _findings(session: Session, held: Held) -> tuple[Finding, ...]:
    """What the rules say, without the figures: the sheet has them with their limits."""
    from engine.checks import check

    found = check(session, [held.name])
    return tuple(f for f in found if f.level != "note" and not f.rule.startswith("figure-"))


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
