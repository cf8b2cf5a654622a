"""The life of a record: new, copy, rename, retire, restore. Each is one ink.

A rename keeps the identity, a copy gives a new one and says where it came from,
a retired record leaves the list and nothing else. Going back is a new ink:
nothing is ever rewritten.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping

from engine.book import revisions
from engine.book.inking import changed_links, committed, line, links_of, trailers
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan
from engine.log.diff import changes_between
from engine.people.identity import require, seal
from engine.repo.work_tree import read_file
from engine.views import Inked
from schemas.address import Tree, Value, grow, lies_in, put
from schemas.document import Document, check_tree, kind_of, name_of, read_document
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
    tree: Tree = {"format": 1, "record": {"id": fresh_id(session), **header}}
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
    require(session.identity, lead=kind_of(path) != "record", what=f"ink {path}")
    held = Held(name_of(path), path, key, "")

    def plan(_: str) -> CommitPlan:
        if path in session.entries:
            raise Refused(f"{path} was inked by somebody else meanwhile", hint="Look at it first.")
        return CommitPlan(
            f"{held.name}: new, found on disk",
            [],
            trailers(session.identity, "new", held, reason),
            seal(session.identity, session.clock()),
            {path: data},
            changed_links(session, document),
        )

    return committed(session, plan, held.name)


def copy(session: Session, held: Held, name: str, reason: str) -> Inked:
    """Begin a record as a copy of an inked one, with a new identity."""
    path = session.free_path(name)
    source = session.past.document(held.path, held.blob)
    _only_records(held, "copied")
    tree = grow(source.values)
    put(tree, "record.id", fresh_id(session))
    put(tree, "record.copied_from", f"{held.key}@{session.head}")
    tree["record"].pop("retired", None)
    return _one(session, _checked(tree, path), "copy", f"{name}: copied from {held.name}", reason)


def _one(session: Session, document: Document, kind: str, subject: str, reason: str) -> Inked:
    require(session.identity, lead=False, what="begin a record")
    held = Held(document.name, document.path, str(document.values["record.id"]), "")

    def plan(_: str) -> CommitPlan:
        session.free_path(document.name)  # somebody may have taken the name meanwhile
        return CommitPlan(
            subject,
            [],
            trailers(session.identity, kind, held, reason),
            seal(session.identity, session.clock()),
            {document.path: document.bytes},
        )

    return committed(session, plan, document.name)


def _checked(tree: Tree, path: str) -> Document:
    try:
        return check_tree(tree, path)
    except ReadError as error:
        problem = error.problems[0]
        raise UsageError(problem.what, where=problem.address, hint=problem.hint) from None


def _only_records(held: Held, what: str) -> None:
    if kind_of(held.path) != "record":
        raise UsageError(f"{held.name} is no record and cannot be {what}")


def rename(session: Session, held: Held, name: str, reason: str) -> Inked:
    """Give a record another name; identity, history and pencil go along."""
    _only_records(held, "renamed")
    require(session.identity, lead=False, what="rename a record")
    path = session.free_path(name)

    def plan(_: str) -> CommitPlan:
        now = session.find(held.key)
        session.free_path(name)
        data = session.git.blob(now.blob)
        return CommitPlan(
            f"{name}: renamed from {now.name}",
            [],
            trailers(session.identity, "rename", now, reason),
            seal(session.identity, session.clock()),
            {now.path: None, path: data},
        )

    return committed(session, plan, name)


def retire(session: Session, held: Held, reason: str, *, back: bool = False) -> Inked:
    """Take a record out of the list, or back into it; its history stays as it is."""
    _only_records(held, "retired")
    require(session.identity, lead=False, what="retire a record")

    def plan(_: str) -> CommitPlan:
        now = session.find(held.key)
        document = session.past.document(now.path, now.blob)
        if bool(document.values.get("record.retired")) is not back:
            raise Refused(f"{now.name} is {'not ' if back else ''}retired already")
        tree = grow(document.values)
        tree["record"].pop("retired", None)
        if not back:
            put(tree, "record.retired", True)
        word = "back in the list" if back else "retired"
        return CommitPlan(
            f"{now.name}: {word}",
            [],
            trailers(session.identity, "retire", now, reason),
            seal(session.identity, session.clock()),
            {now.path: check_tree(tree, now.path).bytes},
        )

    return committed(session, plan, held.name)


def restore(session: Session, held: Held, mark: str, address: str, reason: str) -> Inked:
    """Ink again what stood at a mark: a value, a section, or the whole record.

    A whole record brings its program and photos back with it. Confirmation at
    the machine is not restored: what is on the control is not known.
    """
    require(session.identity, lead=kind_of(held.path) != "record", what=f"restore {held.name}")
    point = revisions.resolve(session, held, mark)
    if not point.blob:
        raise UsageError(f"{held.name} did not exist at {mark}")
    then = session.past.document(point.path, point.blob)
    messages: list[str] = []
    result: list[Inked] = []

    def plan(head: str) -> CommitPlan:
        session.move_to(head)
        now = session.again(held)
        require(session.identity, lead=kind_of(held.path) != "record", what=f"restore {now.name}")
        old = session.past.values(now.path, now.blob) or {}  # of a broken text too
        new = check_tree(grow(_merged(old, then.values, address)), now.path)
        linked = {} if address else _files_then(session, then, point.commit)
        changes, _ = changes_between(old, new.values, session.units(new))
        if new.bytes == session.git.blob(now.blob) and not linked:
            raise Refused(f"{address or now.name} stands as it did at {mark}", where=now.name)
        if not reason.strip():
            raise Refused("going back needs a reason", hint="Say it with --reason TEXT.")
        messages[:] = _warnings(
            session,
            new,
            point.commit,
            changes_in_positions=any(c.address.startswith("positions.") for c in changes),
        )
        what = f"{address or 'the whole record'} restored from {mark} ({point.commit[:10]})"
        result[:] = [Inked(now.name, "", f"{now.name}: {what}", tuple(changes), tuple(messages))]
        return CommitPlan(
            result[0].subject,
            [line(c) for c in changes],
            trailers(session.identity, "restore", now, reason),
            seal(session.identity, session.clock()),
            {now.path: new.bytes},
            linked,
            writes_linked=True,
        )

    commit = session.inker.commit(plan)
    session.refresh()
    return Inked(
        result[0].document, commit, result[0].subject, result[0].changes, result[0].messages
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
    session: Session, document: Document, commit: str, *, changes_in_positions: bool
) -> list[str]:
    said = ["nothing was confirmed at the machine: read the values back there before you run"]
    if not changes_in_positions or not isinstance(document.model, Record):
        return said
    saved = session.past.saved(commit)
    for path, blob in session.entries.under(f"events/{document.model.record.cell}"):
        model = session.past.document(path, blob).model
        if saved is not None and isinstance(model, Event) and model.event.at > saved.when:
            said.append(
                f"these positions were taught before: {model.event.kind} on "
                f"{model.event.at:%Y-%m-%d} ({model.event.reason}); teach them anew"
            )
    return said
