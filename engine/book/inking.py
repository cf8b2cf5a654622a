"""Inking: my pencil on a document becomes one commit, with what it links to.

The commit holds the record together with the program and the photos that
changed with it, since a hash alone brings no job back. Who inked the same thing
meanwhile is told by name; nothing is overwritten.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from engine.book import figures, revisions
from engine.book.pencilling import live, mine, overlay
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan
from engine.drafts import by_hand
from engine.drafts.by_hand import with_comments_in_notes
from engine.drafts.conflicts import contested
from engine.drafts.pencil import PencilMark, pack
from engine.log.diff import changes_between
from engine.people.identity import Identity, require, seal
from engine.repo.work_tree import read_file
from engine.views import Change, Inked
from schemas.address import Value, matches, show
from schemas.book import BookFile, reason_patterns
from schemas.document import Document, kind_of
from schemas.errors import Conflict, ReadError, Refused, UsageError
from schemas.fields import visible_lines
from schemas.record import Record, is_coupled, is_link


def ink(session: Session, held: Held, reason: str) -> Inked:
    """Ink my pencil. Conflict, FoundOnDisk or Refused where it cannot be done; all pencil stays."""
    pencil = mine(session, held)
    try:
        session.past.document(held.path, held.blob)
    except ReadError as error:
        return _mend(session, held, reason, error)
    result: list[Inked] = []
    texts: list[Document] = []  # before and after

    def plan(head: str) -> CommitPlan:
        session.move_to(head)
        place = session.again(held)
        require(session.identity, lead=kind_of(place.path) != "record", what=f"ink {place.name}")
        old = session.past.document(place.path, place.blob)
        state = pencil.state()
        marks = live(state, old.values)
        _stop_if_contested(session, place, marks, old.values)
        laid = _laid_over(place, old, marks)
        new = with_comments_in_notes(replace(laid, comments=old.comments))
        linked = changed_links(session, new)
        changes, respelt = changes_between(old.values, new.values, session.units(new))
        if not (marks or linked or old.comments):
            raise Refused(
                "there is nothing to ink",
                where=place.name,
                hint="Nothing is in pencil, and program and photos are as inked.",
            )
        _stop_without_reason(session, place, changes, reason)
        texts[:] = [old, new]
        what = [*_subject(changes, respelt), *sorted(linked)]
        result[:] = [
            Inked(
                place.name,
                "",
                f"{place.name}: {'; '.join(what)}",
                tuple(changes),
                tuple(_messages(session, place, old, changes)),
            )
        ]
        packed = [pack(mark) for mark in state.marks.values()]  # those that say what is inked too
        return CommitPlan(
            result[0].subject,
            [line(change) for change in changes],
            trailers(session.identity, "ink", place, reason, state.draft),
            seal(session.identity, session.clock()),
            {place.path: new.bytes},
            linked,
            pencil=(pencil.person, pencil.document, state.draft, packed),
        )

    commit = session.inker.commit(plan)
    session.refresh()
    done = result[0]
    worse = figures.worse_in_words(session, texts[0], texts[1])  # after: no figure holds a save up
    return Inked(done.document, commit, done.subject, done.changes, (*worse, *done.messages))


def _mend(session: Session, held: Held, reason: str, broken: ReadError) -> Inked:
    """Ink what was mended on disk, where the inked text itself cannot be used."""
    found = by_hand.look(session.folder, held.path, session.git.blob(held.blob))
    if found is None or found.document is None or found.data is None:
        raise ReadError([*found.problems] if found and found.problems else broken.problems)
    data, document = found.data, found.document
    if document.values.get("record.id", held.key) != held.key:
        raise Refused(f"{held.path} on disk carries another identity", hint="Put its own id back.")
    if not reason.strip():
        raise Refused(
            "mending a broken file needs a reason",
            where=held.path,
            hint="Say it with --reason TEXT.",
        )
    old = session.past.values(held.path, held.blob) or {}
    changes, _ = changes_between(old, document.values, session.units(document))

    def plan(_: str) -> CommitPlan:
        if session.find(held.name).blob != held.blob:
            raise Refused(f"{held.name} was inked by somebody else meanwhile", hint="Look at it.")
        return CommitPlan(
            f"{held.name}: mended on disk",
            [line(change) for change in changes],
            trailers(session.identity, "ink", held, reason),
            seal(session.identity, session.clock()),
            {held.path: data},
            changed_links(session, document),
        )

    return replace(committed(session, plan, held.name), changes=tuple(changes))


def committed(session: Session, plan: Callable[[str], CommitPlan], name: str) -> Inked:
    """Make the commit of a plan that needs no more words than its subject."""
    kept: list[CommitPlan] = []

    def keeping(head: str) -> CommitPlan:
        session.move_to(head)
        require(session.identity, lead=False, what=f"write {name}")
        kept[:] = [plan(head)]
        return kept[0]

    commit = session.inker.commit(keeping)
    session.refresh()
    return Inked(name, commit, kept[0].subject, ())


def trailers(
    identity: Identity, kind: str, held: Held, reason: str, draft: str = ""
) -> dict[str, str]:
    """The trailers that every commit of the program has."""
    return {
        "Kind": kind,
        "Record": held.key,
        "Person": identity.key,
        "Login": identity.login,
        "Reason": checked_reason(reason),
        "Draft": draft,
    }


def checked_reason(reason: str) -> str:
    """A reason as it may stand in history. UsageError where it has signs nobody can see."""
    try:
        visible_lines(reason)
    except ValueError as error:
        hint = "Type it again in plain words."
        raise UsageError(f"the reason has {error}", hint=hint) from None
    if len(reason) > 2000:
        raise UsageError("the reason has more than 2000 characters", hint="Put it in the notes.")
    return reason.strip()


def line(change: Change) -> str:
    """One change on one line: `positions.seat.reach: 612.350 -> 612.500 mm (+0.150)`."""
    old = _short(change.old) if change.old is not None else "nothing"
    new = _short(change.new) if change.new is not None else "nothing"
    unit = f" {change.unit}" if change.unit else ""
    delta = f" ({change.delta:+f})" if change.delta is not None else ""
    return f"{change.address}: {old} -> {new}{unit}{delta}"


def _short(value: Value | None) -> str:
    text = " ".join(show(value).split())
    return text if len(text) <= 60 else f"{text[:59]}…"


def _subject(changes: Sequence[Change], respelt: int) -> list[str]:
    """What changed, in a few words."""
    if not changes:
        return [f"{respelt} values spelt otherwise"] if respelt else []
    if len(changes) <= 2:
        return [line(change) for change in changes]
    tables = dict.fromkeys(
        ".".join(c.address.split(".")[: 2 if c.address.startswith("positions") else 1])
        for c in changes
    )
    return [f"{len(changes)} values in {', '.join(tables)}"]


def _laid_over(held: Held, document: Document, marks: Sequence[PencilMark]) -> Document:
    """Pencil on what is inked now. Conflict where somebody inked away what it stands in."""
    try:
        return overlay(document, marks)
    except ReadError as error:
        problem = error.problems[0]
        raise Conflict(
            f"your pencil does not go with what is inked now: {problem.address}: {problem.what}",
            where=held.name,
            hint=f"Nothing was inked. `witnessmark pencil {held.name} --rub-out ADDRESS` takes "
            "that mark away; it can be brought back.",
        ) from None


def _stop_if_contested(
    session: Session, held: Held, marks: Sequence[PencilMark], inked: Mapping[str, Value]
) -> None:
    against = contested(session.past, held.key, marks, inked, session.identity.key)
    if not against:
        return
    lines = [
        f"{mark.address}: {session.identity.name} has {show(mark.value) or 'nothing'}, inked is "
        f"{show(inked.get(mark.address)) or 'nothing'} (changed by {against[mark.address].name})"
        for mark in marks
        if mark.address in against
    ]
    raise Conflict(
        "somebody else inked the same thing, or what belongs together with it, meanwhile: "
        + "; ".join(lines),
        where=held.name,
        hint=f"Nothing was overwritten. `pencil {held.name} --keep` keeps yours, `--rub-out` "
        "takes theirs.",
    )


def _stop_without_reason(
    session: Session, held: Held, changes: Sequence[Change], reason: str
) -> None:
    first = needs_reason(session, changes)
    if first and not reason.strip():
        raise Refused(
            f"a change of {first} needs a reason",
            where=held.name,
            hint="Say it with --reason TEXT; it stays with the change for ever.",
        )


def needs_reason(session: Session, changes: Sequence[Change]) -> str:
    """The first changed address for which the policy wants a reason, or empty."""
    try:
        patterns = reason_patterns(session.book_file().policy)
    except (ReadError, UsageError):
        patterns = ("positions",)
    for change in changes:
        if any(matches(change.address, pattern) for pattern in patterns):
            return change.address
    return ""


def links_of(document: Document) -> dict[str, str]:
    """Linked files of a record: address of the link -> path."""
    return {a: str(path) for a, path in document.values.items() if is_link(a)}


def in_roots(book: BookFile, address: str, path: str) -> bool:
    """Whether a linked path lies in one of the folders that the book allows."""
    roots = book.program_roots() if address == "program.file" else book.photo_roots()
    return any(path.startswith(root.rstrip("/") + "/") for root in roots)


def changed_links(session: Session, document: Document) -> dict[str, bytes]:
    """Linked files inside the roots whose bytes on disk are not the inked ones."""
    if not isinstance(document.model, Record):
        return {}
    book = session.book_file()
    found: dict[str, bytes] = {}
    for address, path in links_of(document).items():
        if not in_roots(book, address, path):
            continue
        try:
            data = read_file(session.folder, path)
        except UsageError:
            continue  # a finding tells; it does not keep the record from being inked
        if data is not None and blob_id(data, session.entries.get(path, "")) != session.entries.get(
            path
        ):
            found[path] = data
    return found


def blob_id(data: bytes, like: str = "") -> str:
    """The id that git gives to these bytes, in the form of `like`."""
    make = hashlib.sha256 if len(like) == 64 else hashlib.sha1
    return make(b"blob %d\0" % len(data) + data).hexdigest()


def _messages(session: Session, held: Held, old: Document, changes: Sequence[Change]) -> list[str]:
    """What a person should know about this ink."""
    said = []
    if old.comments:
        said.append(f"{len(old.comments)} comments of the hand-edited file are in the notes now")
    if changes and isinstance(old.model, Record) and revisions.sign_offs(session, held):
        said.append("the last sign-off does not cover this revision")
    first = next((c.address for c in changes if is_coupled(c.address)), "")
    stages = old.model.lot.stages if isinstance(old.model, Record) else None
    if first and stages:
        said.append(
            f"{first} changed: prove out again from the first stage, "
            f"{show(stages[0])} % of full speed, without a blank"
        )
    return said
