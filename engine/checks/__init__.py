"""Checks: what does not hold together, by rules with stable names.

Rules only look. A rule is added by writing one function in a file that is
imported here. One bad file is a finding and hides nothing of others; a rule that
fails is a finding too, with its traceback in the log.
"""

from __future__ import annotations

import logging
import zlib
from collections.abc import Iterable, Iterator, Sequence

from engine.book import listing
from engine.book.session import Held, Session
from engine.checks import (
    cells,
    clocks,
    crew,
    documents,
    figures,
    files,
    history,
    machining,
    pencil,
    people,
    photos,
    programs,
    saves,
    values,
)
from engine.checks.book_view import BookView
from engine.checks.crew import Tell
from engine.checks.rule import RULES, About, Look, Rule, Say, Says, rule
from engine.checks.view import CellView, DocumentView, RecordView
from engine.views import Finding
from schemas.document import kind_of, path_of
from schemas.errors import WitnessmarkError

__all__ = ["RULES", "check"]

_FILES = (
    *(cells, clocks, documents, figures, files, history, machining),
    *(pencil, people, photos, programs, saves, values),
)
_OF_ALL = ("past-rewritten", "meeting-point-rewritten")
_LEVELS = ("error", "warning", "note")
_log = logging.getLogger(__name__)


def _nobody(_: int) -> None:
    """Is told how far it is."""


def check(session: Session, names: Sequence[str] = (), tell: Tell = _nobody) -> list[Finding]:
    """Findings about the named documents, or about the whole book.

    A past that was rewritten is told whatever is asked for: every answer leans on it. Where
    many documents have to be looked at, `tell` is told how far that is.
    """
    book = BookView(session)
    wanted = set(names)
    documents, part = list(_wanted(book, wanted)), _findings()
    unknown = [held for held in documents if not book.is_known(held, part)]
    if len(unknown) > crew.FEW and session.past.keeps:
        crew.look_ahead(session, unknown, tell)
    found = [finding for held in documents for finding in _of_document(book, held)]
    for known in RULES.values():
        if "book" in known.looks and _may_tell_of(known, wanted):
            for finding in _of_book(book, known):
                if not wanted or finding.record in wanted or finding.rule in _OF_ALL:
                    found.append(finding)
    session.kept.flush([] if wanted else [held.whose for held in session.places()])
    return sorted(found, key=_order)


def check_alone(session: Session, names: Sequence[str]) -> list[Finding]:
    """Findings of rules about single documents, of some: no other document is looked at."""
    book = BookView(session)
    rows = [(held, book.part(held, _findings(), _look_at)) for held in _wanted(book, set(names))]
    session.kept.flush()
    return sorted((_restored(held, *row) for held, found in rows for row in found), key=_order)


def knows(session: Session, names: Sequence[str] = ()) -> bool:
    """Whether what rules say of the named documents, or of all, is known but for a few."""
    book, part = BookView(session), _findings()
    unknown = (held for held in _wanted(book, set(names)) if not book.is_known(held, part))
    return sum(1 for _ in unknown) <= crew.FEW


def look_at(session: Session, documents: Iterable[Held]) -> None:
    """Have all that rules say of documents, gather of them, and their lines in the list, kept."""
    book = BookView(session)  # one for all: a file that several link to is looked at once
    for held in documents:
        _of_document(book, held)
        if held.is_record:
            listing.look_at(held)


def _wanted(book: BookView, wanted: set[str]) -> Iterator[Held]:
    return (held for held in book.session.places() if not wanted or held.name in wanted)


def _may_tell_of(known: Rule, wanted: set[str]) -> bool:
    kinds = {kind_of(path_of(name)) for name in wanted}
    return not wanted or known.name in _OF_ALL or not kinds.isdisjoint(known.tells_of)


def _order(finding: Finding) -> tuple[str, int, str, str, int, str, str]:
    level = _LEVELS.index(finding.level)
    place = (finding.file, finding.line, finding.address, finding.message)
    return (finding.record, level, finding.rule, *place)


# of one document: kept, with all that it leans on


def _of_document(book: BookView, held: Held) -> list[Finding]:
    rows = book.part(held, _findings(), _look_at)
    book.gather(held)
    return [_restored(held, *row) for row in rows]


def _findings() -> str:
    """The name of that part: another one where there are other rules."""
    return f"findings {zlib.crc32(' '.join(RULES).encode()):x}"


def _look_at(view: DocumentView) -> list[list[object]]:
    """What all rules about a document say of it, as plain values."""
    found: list[list[object]] = []
    for known in RULES.values():
        for about in _abouts(view):
            if about in known.looks:
                found += _rows(view, known, known.looks[about])
    return found


def _abouts(view: DocumentView) -> Iterator[About]:
    yield "document"
    if isinstance(view, RecordView) and not view.retired:
        yield "record"
    if isinstance(view, CellView):
        yield "cell"


def _rows(view: DocumentView, known: Rule, look: Look) -> Iterator[list[object]]:
    try:
        for say in look(view):
            yield _row(view, known.name, say)
    except Exception as error:  # no rule may hide what the others have to say
        view.leans_on_nothing()
        yield _row(view, "rule-failed", _failed(known, view.name, error))


def _row(view: DocumentView, name: str, say: Say) -> list[object]:
    line = say.line
    if line is None:
        line = view.line_of(say.address) if say.file in ("", view.held.path) else 0
    return [name, say.address, say.message, say.hint, say.file, line]


def _restored(
    held: Held, name: str, address: str, message: str, hint: str, file: str, line: int
) -> Finding:
    known = RULES[name]
    hint = hint or known.hint.format(record=held.name, address=address)
    return Finding(name, known.level, held.name, address, message, hint, file or held.path, line)


# of the book: asked anew each time


def _of_book(book: BookView, known: Rule) -> Iterator[Finding]:
    try:
        for say in known.looks["book"](book):
            yield _finding(book, known, say)
    except Exception as error:  # no rule may hide what the others have to say
        yield _finding(book, RULES["rule-failed"], _failed(known, "book", error))


def _finding(book: BookView, known: Rule, say: Say) -> Finding:
    record = say.document or "book"
    held = book.session.knows(record)
    file, line = say.file or (held.path if held else ""), say.line
    if line is None:
        mine = held is not None and file == held.path
        line = book.view_of(held).line_of(say.address) if held and mine and say.address else 0
    hint = say.hint or known.hint.format(record=record, address=say.address)
    return Finding(known.name, known.level, record, say.address, say.message, hint, file, line)


def _failed(known: Rule, name: str, error: Exception) -> Say:
    """One finding for a rule that could not look to its end; the log has how it came to that."""
    _log.error("the rule %s failed on %s", known.name, name, exc_info=error)
    why = f": {error}" if isinstance(error, WitnessmarkError) else ""  # an answer, not a fault
    message = f"the rule {known.name} failed on {name}, so it is not known whether it holds{why}"
    return Say("", message, line=0)


@rule("rule-failed", "error", "The log has the details; the other rules were not affected.", "book")
def _rule_failed(_: BookView) -> Says:
    """A rule could not look: a fault of this program."""
    return iter(())
