"""Sign-offs and datum events: short files that are written once and never changed.

A sign-off covers one exact revision of record, program, photos, cell and policy
by their hashes; when any of them changes it is void, by itself.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, get_args

from engine.book import figures, revisions
from engine.book.inking import changed_links, committed, links_of, trailers
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan
from engine.figures import wording
from engine.figures.model import Figure
from engine.people.identity import require, seal
from engine.views import Inked
from schemas.address import Tree
from schemas.document import Document, check_tree
from schemas.errors import Refused, UsageError
from schemas.log import EventKind
from schemas.record import Record

SignOffState = Literal["yes", "void", "no"]
MOST_SAID = 4  # figures or values named in one sentence


def accepted_now(session: Session, document: Document) -> Tree:
    """Hashes of everything that a sign-off covers, as it is inked now."""
    model = document.model
    assert isinstance(model, Record)
    paths = {
        "program": model.program.file,
        "cell": f"cells/{model.record.cell}.toml",
        "policy": "book.toml",
    }
    hashes: Tree = {"record": _hash(session, document.path)}
    hashes |= {name: _hash(session, path) for name, path in paths.items() if path}
    photos = {name: _hash(session, photo.file) for name, photo in model.photos.items()}
    hashes["photos"] = {name: found for name, found in photos.items() if found}
    return {name: found for name, found in hashes.items() if found}


def _hash(session: Session, path: str) -> str | None:
    blob = session.entries.get(path)
    return hashlib.sha256(session.git.blob(blob)).hexdigest() if blob else None


def state(session: Session, held: Held, document: Document) -> SignOffState:
    """Whether the last sign-off of a record still covers it."""
    done = revisions.sign_offs(session, held)
    if not done:
        return "no"
    last = done[-1].accepted.model_dump(exclude_none=True)
    return (
        "yes"
        if {**last, "photos": last.get("photos") or {}}
        == {"photos": {}, **accepted_now(session, document)}
        else "void"
    )


def sign_off(session: Session, held: Held, note: str) -> Inked:
    """Accept a record as it is inked now, as a lead; with a reason where figures do not fit."""
    require(session.identity, lead=True, what="sign off")
    said: list[str] = []

    def plan(_: str) -> CommitPlan:
        require(session.identity, lead=True, what="sign off")
        now = session.find(held.key)
        if now.blob != held.blob:
            raise Refused(
                f"{now.name} was inked by somebody else at this moment",
                hint="Look at it again, then sign off.",
            )
        document = session.past.document(now.path, now.blob)
        if not isinstance(document.model, Record):
            raise UsageError(f"{now.name} is no record and cannot be signed off")
        changed = changed_links(session, document)
        missing = [p for p in links_of(document).values() if p not in session.entries]
        if changed or missing:
            raise Refused(
                f"{', '.join(sorted({*changed, *missing}))} is not in the book as linked",
                where=now.name,
                hint="Ink the record with its files first.",
            )
        looked = figures.of_document(session, document)
        _stop_if_unfit(now, looked, note)
        said[:] = _untold(looked)
        written = _written(session, now, document, note, looked)
        return CommitPlan(
            f"{now.name}: signed off",
            [],
            trailers(session.identity, "sign-off", now, note),
            seal(session.identity, session.clock()),
            {written.path: written.bytes},
        )

    return replace(committed(session, plan, held.name), messages=tuple(said))


def _written(
    session: Session, held: Held, document: Document, note: str, looked: Sequence[Figure]
) -> Document:
    """The sign-off's own file."""
    at = session.clock().replace(microsecond=0)
    made = f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}"
    head = {
        "id": made,
        "record": held.key,
        "at": at,
        "who": session.identity.key,
        "commit": session.head,
        "note": note or None,
        "not_fitting": sum(figure.verdict == "does not fit" for figure in looked) or None,
        "cannot_tell": sum(figure.verdict == "cannot tell" for figure in looked) or None,
    }
    tree: Tree = {
        "format": 1,
        "sign_off": {k: v for k, v in head.items() if v is not None},
        "accepted": accepted_now(session, document),
    }
    return check_tree(tree, f"signoffs/{held.key}/{made}.toml")


def _stop_if_unfit(held: Held, looked: Sequence[Figure], note: str) -> None:
    """Refused where a figure does not fit and nobody says why it is accepted all the same."""
    unfit = [figure for figure in wording.worst_first(looked) if figure.verdict == "does not fit"]
    if not unfit or note.strip():
        return
    named = ", ".join(wording.figure_in_words(figure) for figure in unfit[:MOST_SAID])
    more = f", and {len(unfit) - MOST_SAID} more" if len(unfit) > MOST_SAID else ""
    raise Refused(
        f"{len(unfit)} figures do not fit: {named}{more}".replace("1 figures do", "1 figure does"),
        where=held.name,
        hint="Put them right, or say with --note TEXT why they are accepted; it stays for ever.",
    )


def _untold(looked: Sequence[Figure]) -> list[str]:
    """Figures that the sign-off accepts unseen, by the values they wait for."""
    count = sum(figure.verdict == "cannot tell" for figure in looked)
    if not count:
        return []
    waiting = wording.waiting(looked)
    named = ", ".join(list(waiting)[:MOST_SAID])
    more = f" and {len(waiting) - MOST_SAID} more" if len(waiting) > MOST_SAID else ""
    return [f"{count} figures cannot be told for want of {named}{more}; the sign-off counts them"]


def event(session: Session, cell: str, kind: str, reason: str) -> Inked:
    """Note something after which positions taught earlier on a cell are suspect."""
    require(session.identity, lead=False, what="note an event")
    name = cell.removeprefix("cells/")
    held = session.find(f"cells/{name}")
    if kind not in get_args(EventKind):
        raise UsageError(
            f"{kind!r} is no kind of event", hint="One of: " + ", ".join(get_args(EventKind))
        )
    if not reason.strip():
        raise Refused("an event needs a reason", hint="Say what happened with --reason TEXT.")

    def plan(_: str) -> CommitPlan:
        at = session.clock().replace(microsecond=0)
        made = f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}"
        tree: Tree = {
            "format": 1,
            "event": {
                "cell": name,
                "kind": kind,
                "at": at,
                "who": session.identity.key,
                "reason": " ".join(reason.split()),
            },
        }
        written = check_tree(tree, f"events/{name}/{made}.toml")
        return CommitPlan(
            f"{held.name}: {kind}",
            [],
            trailers(session.identity, "event", held, reason),
            seal(session.identity, session.clock()),
            {written.path: written.bytes},
        )

    return committed(session, plan, held.name)
