"""Rules on documents as files: can they be read, and is what lies on disk what was inked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from engine.book.session import Held, Session
from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, further, rule
from engine.checks.view import DocumentView, RecordView, layout_of
from engine.log.diff import changes_between
from engine.views.wording import count
from schemas.address import Value, show
from schemas.document import Document, kind_of, name_of
from schemas.errors import Problem, ReadError
from schemas.record import Record

_LOGS = ("runs", "signoffs")  # a folder below for each record
MOST_SAID = 12  # changed values of one file; beyond, a look at all of them says more


# reading


@rule("unreadable", "error", "Mend the file.", "document")
def unreadable(view: DocumentView) -> Says:
    """A file of the book cannot be read; one finding for each reason."""
    same = view.found is None
    back = f" `witnessmark restore {view.name} MARK --reason TEXT` goes back to an older text."
    for problem in view.problems:
        at, more = (problem.line, "") if same else (0, " (as inked)")
        mended = replace(problem, line=at, hint=f"{problem.hint}{back}")
        yield _say(mended, view.name, more)
    for problem in view.found.problems if view.found else ():
        yield _say(problem, view.name, " (on disk)")
    yield from _of_logs(view)


@further("unreadable", "book")
def unreadable_elsewhere(view: BookView) -> Says:
    """The same of files that are no documents of the head, and of pencil."""
    for path, found in view.strays.items():
        yield from (_say(problem, name_of(path)) for problem in found.problems)
    yield from _of_nobodys_logs(view)
    for problem in view.damaged_pencil:
        yield Say("", problem.what, problem.hint, problem.address, problem.file, 0)


def _of_logs(view: DocumentView) -> Says:
    """Runs, sign-offs and events: said of the record or cell that they belong to."""
    for folder in _log_folders(view.held):
        view.leans_on("folder", folder)
        yield from _below(view.session, folder, view.name)


def _log_folders(held: Held) -> list[str]:
    if kind_of(held.path) == "cell":
        return [f"events/{held.name.removeprefix('cells/')}"]
    return [f"{top}/{held.key}" for top in _LOGS] if held.is_record else []


def _below(session: Session, folder: str, name: str) -> Says:
    for path, blob in session.entries.under(folder):
        if kind_of(path) is None:
            continue
        try:
            session.past.document(path, blob)
        except ReadError as error:
            yield from (_say(problem, name) for problem in error.problems)


def _of_nobodys_logs(view: BookView) -> Says:
    """The same of what belongs to no document of the head: few, or none."""
    session = view.session
    known = {held.key for held in session.places("record")}
    for top in _LOGS:
        for key in session.entries.entries(top):
            if key not in known:
                yield from _below(session, f"{top}/{key}", key)
    for cell in session.entries.entries("events"):
        if cell not in view.all_cells:
            yield from _below(session, f"events/{cell}", f"cells/{cell}")
    yield from _below(session, "acknowledged", "book")


def _say(problem: Problem, name: str, more: str = "") -> Say:
    what = f"{problem.what}{more}"
    return Say(problem.address, what, problem.hint, name, problem.file, problem.line)


# on disk and in ink

_TAKE_OR_PUT_BACK = (
    "`witnessmark pencil {record} --take-from-disk` takes it as pencil, `--put-back` puts the "
    "inked text back and keeps a copy."
)


@rule(
    "found-on-disk",
    "warning",
    _TAKE_OR_PUT_BACK,
    "document",
)
def found_on_disk(view: DocumentView) -> Says:
    """A file was changed on disk, outside the program, and the change is not inked."""
    changed = [say for say in _changed_on_disk(view) if not _is_position(view, say.address)]
    yield from _most(changed)


@rule(
    "position-on-disk",
    "error",
    _TAKE_OR_PUT_BACK,
    "document",
)
def position_on_disk(view: DocumentView) -> Says:
    """A taught position was changed on disk, outside the program, and is not inked."""
    yield from _most([say for say in _changed_on_disk(view) if _is_position(view, say.address)])


def _is_position(view: DocumentView, address: str) -> bool:
    return isinstance(view, RecordView) and address.startswith("positions.")


def _changed_on_disk(view: DocumentView) -> Iterator[Say]:
    found = view.found
    if found is None or found.document is None or found.data is None:
        return  # as inked, gone or unreadable: other rules tell
    if view.document is None:
        yield Say("", "the file on disk differs from the inked one, which cannot be read")
        return
    lines = layout_of(found.data, found.path)
    changes, respelt = changes_between(view.document.values, found.document.values, _units(view))
    for change in changes:
        words = f"{_or_nothing(change.new)} on disk, {_or_nothing(change.old)} inked"
        yield Say(change.address, words, line=lines.line_of(change.address))
    if not changes:
        spelt = count(respelt, "value is", "values are")
        what = f"{spelt} spelt otherwise" if respelt else "comments or blanks differ"
        yield Say("", f"the file on disk says the same as the inked one, but {what}")


def _units(view: DocumentView) -> Callable[[str], str]:
    """Unit by address."""
    if isinstance(view, RecordView):
        return view.unit
    assert view.document is not None
    return view.session.units(view.document)


def _or_nothing(value: Value | None) -> str:
    text = " ".join(show(value).split()) if value is not None else "nothing"
    return text if len(text) <= 60 else f"{text[:59]}…"


def _most(says: list[Say]) -> Iterator[Say]:
    yield from says[:MOST_SAID]
    if len(says) > MOST_SAID:
        more = count(len(says) - MOST_SAID, "more value differs", "more values differ")
        yield Say("", f"{more} on disk")


@rule(
    "gone-from-disk",
    "warning",
    "`witnessmark pencil {record} --put-back` writes it again.",
    "document",
)
def gone_from_disk(view: DocumentView) -> Says:
    """A file of the book is gone from disk; the head still holds it."""
    if view.found is not None and view.found.data is None and not view.found.problems:
        yield Say("", f"{view.held.path} is gone from disk")


@rule(
    "never-inked",
    "warning",
    "`witnessmark ink {record} --reason TEXT` takes it into the book.",
    "book",
)
def never_inked(view: BookView) -> Says:
    """A record or cell lies on disk and was never inked."""
    for path in view.strays:
        message = "this file is on disk only and was never inked"
        yield Say("", message, document=name_of(path), file=path, line=0)


@rule(
    "duplicate-id",
    "error",
    "A copied file keeps the identity of the other: `witnessmark copy` makes a copy with its own.",
    "book",
)
def duplicate_id(view: BookView) -> Says:
    """Two records carry one identity, so that their histories mix."""
    owners: dict[str, list[tuple[str, str]]] = {}
    for held in view.session.places("record"):
        owners.setdefault(held.key, []).append((held.name, held.path))
    for path, found in view.strays.items():
        if key := _id_of(found.document):
            owners.setdefault(key, []).append((name_of(path), path))
    for key, files in owners.items():
        for name, path in files if len(files) > 1 else ():
            others = " and ".join(other for other, _ in files if other != name)
            there = view.session.knows(name)
            mine = there is not None and there.path == path
            line = view.view_of(there).line_of("record.id") if there and mine else 0
            yield Say("record.id", f"{others} has the identity {key} too", "", name, path, line)


def _id_of(document: Document | None) -> str:
    model = document.model if document else None
    return model.record.id if isinstance(model, Record) else ""
