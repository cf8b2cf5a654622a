"""Bringing back what was taken out of the book: one ink, with a reason, the same identity.

Invariant: the text comes back byte by byte as it stood, so that its past goes on as if
nothing had been; nothing that is in the book is written over. A record brings back
its runs and sign-offs, its program and photos, where they are not in the book either.
Nothing is confirmed by it: what is on the control is not known.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.book import taken_out
from engine.book.linked_files import in_roots, links_of
from engine.book.revisions import Revision, Revisions, did_not_exist
from engine.book.saving import Save, inked, save
from engine.book.session import Held, Session
from engine.log.diff import changes_between
from engine.repo.work_tree import read_file
from engine.views import Inked
from engine.views.wording import count
from schemas.document import Document, kind_of, name_of, read_document
from schemas.errors import FoundOnDisk, ReadError, Refused, UsageError
from schemas.record import Record


def bring_back(held: Held, mark: str, address: str, reason: str, name: str = "") -> Inked:
    """Ink again a document that is gone, as it stood last or at a mark, under a free name."""
    if address:
        raise UsageError(
            f"{held.name} is not in the book: {address} cannot go back by itself",
            hint=f"`witnessmark restore {held.key} --reason TEXT` brings back the whole first.",
        )
    if name and not held.is_record:
        raise UsageError(f"{held.name} is no record and keeps its name")
    point = _point(held, mark)

    def plan() -> Save:
        now = taken_out.held_of(held.session, held.key)
        if not now.gone:
            raise Refused(f"{now.name} is in the book again already", hint="Look at it first.")
        return _back_again(now, point, reason, name)

    return inked(save(held.session, plan, what=f"bring back {held.name}", lead=not held.is_record))


def _point(held: Held, mark: str) -> Revision:
    if mark:
        point = Revisions(held).resolve(mark)
        if not point.blob:
            raise did_not_exist(held, mark)
        return point
    last = [step for step in held.session.past.life(held.key) if step.new][-1]
    return Revision("its last ink", last.saved.id, last.path, last.new)


def _back_again(now: Held, point: Revision, reason: str, name: str) -> Save:
    session = now.session
    data = session.git.blob(point.blob)
    document = _usable(now, point, data)
    if not reason.strip():
        raise Refused("bringing back needs a reason", hint="Say it with --reason TEXT.")
    path = _free_path(now, name)
    _stop_if_found(session, path, data)
    back = Held(session, name_of(path), path, now.key, "")
    logs = dict(_logs(now))
    linked = _linked(session, document, point.commit)
    there = [p for p in links_of(document).values() if _is_another(session, p, point.commit)]
    changes, _ = changes_between({}, document.values, session.units(document))
    subject = f"{back.name}: brought back as it stood at {point.label} ({point.commit[:10]})"
    said = ["nothing was confirmed at the machine: read the values back there before you run"]
    said = said if isinstance(document.model, Record) else []
    said += [f"{p} is in the book as it is now, not as it was then: compare them" for p in there]
    said += [f"{count(len(logs), 'run and sign-off', 'runs and sign-offs')} came back with it"] * (
        len(logs) > 0
    )
    return Save(
        back,
        "restore",
        subject,
        {path: data, **logs},
        reason,
        changes=tuple(changes),
        messages=tuple(said),
        linked=linked,
        writes_linked=True,
        body=(f"brought back: {', '.join(sorted([path, *logs, *linked]))}",),
    )


def _usable(now: Held, point: Revision, data: bytes) -> Document:
    """The text as a document. ReadError where it broke a rule when it was taken out."""
    try:
        return read_document(data, point.path)
    except ReadError as error:
        marks = f"`witnessmark marks {now.key}` lists older texts: name one of them."
        raise Refused(
            f"what stood at {point.label} cannot be used: {error.problems[0].what}",
            where=now.name,
            hint=marks,
        ) from None


def _free_path(now: Held, name: str) -> str:
    """Its last path, or that of another name. UsageError where something else lies there."""
    session = now.session
    if name:
        return session.free_path(name)
    other = session.knows(now.name)
    if other is not None and not other.key.startswith("records/"):
        raise UsageError(
            f"another record is called {now.name} now: {other.key}",
            hint=f"`witnessmark restore {now.key} --name NAME --reason TEXT` brings it back "
            "under another name.",
        )
    return now.path  # at most its own text lies there, without its identity


def _stop_if_found(session: Session, path: str, data: bytes) -> None:
    """FoundOnDisk where a file that nobody inked lies in its place."""
    disk, inked = read_file(session.folder, path), session.entries.get(path, "")
    if disk not in (None, data) and not (inked and disk == session.git.blob(inked)):
        raise FoundOnDisk(
            "a file lies here that was never inked",
            where=path,
            hint="It was left as it is. Move it away, then bring the record back; or give the "
            "record another name with --name.",
        )


def _logs(now: Held) -> Iterator[tuple[str, bytes]]:
    """Runs and sign-offs of a record that are gone, too, by path."""
    session = now.session
    if not now.is_record:
        return
    for key in session.past.documents():
        mine = key.startswith((f"runs/{now.key}/", f"signoffs/{now.key}/"))
        if mine and f"{key}.toml" not in session.entries and kind_of(f"{key}.toml"):
            last = [step for step in session.past.life(key) if step.new][-1]
            yield last.path, session.git.blob(last.new)


def _linked(session: Session, document: Document, commit: str) -> dict[str, bytes]:
    """Program and photos as they were then, where the book has none at their paths."""
    then, book = session.git.tree(commit), session.book_file()
    return {
        path: session.git.blob(then[path])
        for address, path in links_of(document).items()
        if path in then and path not in session.entries and in_roots(book, address, path)
    }


def _is_another(session: Session, path: str, commit: str) -> bool:
    then = session.git.tree(commit).get(path, "")
    return bool(then) and session.entries.get(path, then) != then
