"""The life of a record: new, copy, rename, retire, restore. Each is one ink.

A rename keeps the identity, a copy gives a new one and says where it came from,
a retired record leaves the list and nothing else. Going back is a new ink:
nothing is ever rewritten.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import replace

from engine.book.linked_files import changed_links, links_of
from engine.book.revisions import Revision, Revisions, did_not_exist
from engine.book.saving import Save, inked, save
from engine.book.session import Held, Session
from engine.log.diff import changes_between
from engine.repo.work_tree import read_file
from engine.views import Change, Inked
from engine.views.wording import day
from schemas.address import Tree, Value, grow, lies_in, put
from schemas.document import FORMATS, Document, check_tree, name_of, read_document
from schemas.errors import ReadError, Refused, UsageError
from schemas.log import Event
from schemas.record import Record

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"


def fresh_id(session: Session) -> str:
    """An identity that no record of this book ever had."""
    while True:
        made = "wm-" + "".join(secrets.choice(_ALPHABET) for _ in range(6))
        if not session.past.knows(made):
            return made


def new(session: Session, name: str, header: Mapping[str, Value], reason: str) -> Inked:
    """Begin a record with its header (part, cell, units, …)."""
    path = session.free_path(name)
    cells = [place.name.removeprefix("cells/") for place in session.places("cell")]
    if header.get("cell") not in cells:
        raise UsageError(
            f"the book has no cell {header.get('cell')!r}", hint="One of: " + ", ".join(cells)
        )
    tree: Tree = {"format": FORMATS["record"], "record": {"id": fresh_id(session), **header}}
    document = _checked(tree, path)
    return _one(session, document, "new", f"{name}: new record", reason)


def adopt(session: Session, path: str, reason: str) -> Inked:
    """Ink a record or cell that lies on disk and was never inked."""
    data = read_file(session.folder, path)
    if data is None:
        raise UsageError(f"there is no {path}", hint="`list` shows what there is.")
    document = read_document(data, path)
    key = session.past.key(path, session.git.write_blob(data))
    taken = [held.name for held in session.places() if held.key == key]
    if taken:
        raise Refused(
            f"{path} carries the identity of {taken[0]}", hint="Use `copy`, which gives a new one."
        )
    held = Held(session, name_of(path), path, key, "")

    def plan() -> Save:
        if path in session.entries:
            raise Refused(f"{path} was inked by somebody else meanwhile", hint="Look at it first.")
        subject, linked = f"{held.name}: new, found on disk", changed_links(session, document)
        return Save(held, "new", subject, {path: data}, reason, linked=linked)

    return inked(save(session, plan, what=f"ink {path}", lead=not held.is_record))


def copy(held: Held, name: str, reason: str) -> Inked:
    """Begin a record as a copy of an inked one, with a new identity."""
    session = held.session
    path = session.free_path(name)
    source = held.read()
    _only_records(held, "copied")
    tree = grow(source.values)
    put(tree, "record.id", fresh_id(session))
    put(tree, "record.copied_from", f"{held.key}@{session.head}")
    tree["record"].pop("retired", None)
    return _one(session, _checked(tree, path), "copy", f"{name}: copied from {held.name}", reason)


def _one(session: Session, document: Document, kind: str, subject: str, reason: str) -> Inked:
    held = Held(session, document.name, document.path, str(document.values["record.id"]), "")

    def plan() -> Save:
        session.free_path(document.name)  # somebody may have taken the name meanwhile
        return Save(held, kind, subject, {document.path: document.bytes}, reason)

    return inked(save(session, plan, what="begin a record"))


def _checked(tree: Tree, path: str) -> Document:
    try:
        return check_tree(tree, path)
    except ReadError as error:
        problem = error.problems[0]
        raise UsageError(problem.what, where=problem.address, hint=problem.hint) from None


def _only_records(held: Held, what: str) -> None:
    if not held.is_record:
        raise UsageError(f"{held.name} is no record and cannot be {what}")


def rename(held: Held, name: str, reason: str) -> Inked:
    """Give a record another name; identity, history and pencil go along."""
    _only_records(held, "renamed")
    path = held.session.free_path(name)

    def plan() -> Save:
        now = held.again()
        now.session.free_path(name)
        renamed = replace(now, name=name, path=path)
        files = {now.path: None, path: now.session.git.blob(now.blob)}
        return Save(renamed, "rename", f"{name}: renamed from {now.name}", files, reason)

    return inked(save(held.session, plan, what="rename a record"))


def retire(held: Held, reason: str, *, back: bool = False) -> Inked:
    """Take a record out of the list, or back into it; its history stays as it is."""
    _only_records(held, "retired")

    def plan() -> Save:
        now = held.again()
        document = now.read()
        if bool(document.values.get("record.retired")) is not back:
            raise Refused(f"{now.name} is {'not ' if back else ''}retired already")
        tree = grow(document.values)
        tree["record"].pop("retired", None)
        if not back:
            put(tree, "record.retired", True)
        subject = f"{now.name}: {'back in the list' if back else 'retired'}"
        return Save(now, "retire", subject, {now.path: check_tree(tree, now.path).bytes}, reason)

    return inked(save(held.session, plan, what="retire a record"))


def restore(held: Held, mark: str, address: str, reason: str) -> Inked:
    """Ink again what stood at a mark: a value, a section, or the whole record.

    A whole record brings its program and photos back with it. Confirmation at
    the machine is not restored: what is on the control is not known.
    """
    past, address = Revisions(held), held.present(address)
    point = past.resolve(mark)
    then = past.document_at(point)
    if then is None:
        raise did_not_exist(held, mark)

    def plan() -> Save:
        return _gone_back(held.again(), then, point, address, reason)

    return inked(save(held.session, plan, what=f"restore {held.name}", lead=not held.is_record))


def _gone_back(now: Held, then: Document, point: Revision, address: str, reason: str) -> Save:
    session = now.session
    new = check_tree(grow(_merged(now.values(), then.values, address)), now.path)
    linked = {} if address else _files_then(session, then, point.commit)
    if new.bytes == session.git.blob(now.blob) and not linked:
        raise Refused(f"{address or now.name} stands as it did at {point.label}", where=now.name)
    if not reason.strip():
        raise Refused("going back needs a reason", hint="Say it with --reason TEXT.")
    changes, _ = changes_between(now.last_values(), new.values, session.units(new))
    what = f"{address or 'the whole record'} restored from {point.label} ({point.commit[:10]})"
    return Save(
        now,
        "restore",
        f"{now.name}: {what}",
        {now.path: new.bytes},
        reason,
        changes=tuple(changes),
        messages=tuple(_warnings(session, new, point.commit, changes)),
        linked=linked,
        writes_linked=True,
    )


def _merged(old: Mapping[str, Value], then: Mapping[str, Value], address: str) -> dict[str, Value]:
    if not address:
        return dict(then)
    back = {a: v for a, v in then.items() if lies_in(a, address)}
    if not back and not any(lies_in(a, address) for a in old):
        raise UsageError(
            f"there was nothing at {address} then, and there is nothing now",
            hint="`show --at` lists what stood there.",
        )
    return {a: v for a, v in old.items() if not lies_in(a, address)} | back


def _files_then(session: Session, then: Document, commit: str) -> dict[str, bytes]:
    """Program and photos as they were, where the inked ones or those on disk differ."""
    entries = session.git.tree(commit)
    found = {}
    if isinstance(then.model, Record):
        for path in links_of(then).values():
            if path not in entries:
                continue
            data = session.git.blob(entries[path])
            if entries[path] != session.entries.get(path) or data != read_file(
                session.folder, path
            ):
                found[path] = data
    return found


def _warnings(
    session: Session, document: Document, commit: str, changes: Sequence[Change]
) -> list[str]:
    said = ["nothing was confirmed at the machine: read the values back there before you run"]
    positions = any(change.address.startswith("positions.") for change in changes)
    if not positions or not isinstance(document.model, Record):
        return said
    saved = session.past.saved(commit)
    for path, blob in session.entries.under(f"events/{document.model.record.cell}"):
        try:
            model = session.past.document(path, blob).model
        except ReadError:
            continue  # a finding tells; it keeps nobody from going back
        if saved is not None and isinstance(model, Event) and model.event.at > saved.when:
            said.append(
                f"these positions were taught before: {model.event.kind} on "
                f"{day(model.event.at)} ({model.event.reason}); teach them again"
            )
    return said
