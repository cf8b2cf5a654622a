"""Checks: what does not hold together, by rules with stable names.

Rules only look. A rule is added by writing one function in a file that is
imported here. One bad file is a finding and hides nothing of others; a rule that
fails is a finding too, with its traceback in the log.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Sequence

from engine.book.session import Session
from engine.checks import (
    cells,
    clocks,
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
from engine.checks.rule import RULES, Rule, Say, Says, rule
from engine.checks.view import BookView, DocumentView
from engine.views import Finding
from schemas.errors import WitnessmarkError

__all__ = ["RULES", "check"]

_FILES = (
    *(cells, clocks, documents, figures, files, history, machining),
    *(pencil, people, photos, programs, saves, values),
)
_OF_ALL = ("past-rewritten", "meeting-point-rewritten")
_LEVELS = ("error", "warning", "note")
_log = logging.getLogger(__name__)


def check(
    session: Session, names: Sequence[str] = (), rules: Callable[[Rule], bool] = lambda _: True
) -> list[Finding]:
    """Findings about the named documents, or about the whole book; of some rules or of all.

    A past that was rewritten is told whatever is asked for: every answer leans on it.
    """
    book = BookView(session)
    wanted = set(names)
    found = [
        finding
        for known in RULES.values()
        if rules(known)
        for finding in _all_of(book, known, wanted)
        if not wanted or finding.record in wanted or finding.rule in _OF_ALL
    ]
    return sorted(found, key=_order)


def _all_of(book: BookView, known: Rule, wanted: set[str]) -> Iterator[Finding]:
    """What one rule says of everything that it is about."""
    try:
        views = _views(book, known, wanted)
    except Exception as error:  # what it is about could not be looked up: the same for that rule
        yield _failed(book, known, "book", error)
        return
    for view in views:
        yield from _look(book, known, view)


def _order(finding: Finding) -> tuple[str, int, str, str, int, str, str]:
    level = _LEVELS.index(finding.level)
    place = (finding.file, finding.line, finding.address, finding.message)
    return (finding.record, level, finding.rule, *place)


def _views(book: BookView, known: Rule, wanted: set[str]) -> Iterable[BookView | DocumentView]:
    if known.about == "book":
        return [book]
    views: dict[str, Iterable[DocumentView]] = {
        "record": book.in_use(),
        "cell": book.cells.values(),
        "document": book.documents.values(),
    }
    return [view for view in views[known.about] if not wanted or view.name in wanted]


def _look(book: BookView, known: Rule, view: BookView | DocumentView) -> Iterator[Finding]:
    name = view.name if isinstance(view, DocumentView) else "book"
    try:
        for say in known.look(view):
            yield _finding(book, known, name, say)
    except Exception as error:  # no rule may hide what the others have to say
        yield _failed(book, known, name, error)


def _failed(book: BookView, known: Rule, name: str, error: Exception) -> Finding:
    """One finding for a rule that could not look to its end; the log has how it came to that."""
    _log.error("the rule %s failed on %s", known.name, name, exc_info=error)
    why = f": {error}" if isinstance(error, WitnessmarkError) else ""  # an answer, not a fault
    message = f"the rule {known.name} failed on {name}, so it is not known whether it holds{why}"
    return _finding(book, RULES["rule-failed"], name, Say("", message, file="", line=0))


def _finding(book: BookView, known: Rule, name: str, say: Say) -> Finding:
    record = say.document or name
    view = book.documents.get(record)
    file = say.file or (view.held.path if view else "")
    line = say.line
    if line is None:
        line = view.line_of(say.address) if view and file == view.held.path else 0
    hint = say.hint or known.hint.format(record=record, address=say.address)
    return Finding(known.name, known.level, record, say.address, say.message, hint, file, line)


@rule("rule-failed", "error", "The log has the details; the other rules were not affected.", "book")
def _rule_failed(_: BookView) -> Says:
    """A rule could not look: a fault of this program."""
    return iter(())
