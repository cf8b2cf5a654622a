"""Bringing a book's files to the present format, all in one commit that changes no value.

Whatever was said before holds after: sign-offs, confirmations, pencil, runs and prove-out
stages lean on values, and history has no row for a change of format. A file that is not as
inked is somebody's work and is left. Runs, sign-offs and events are written once and stay.
"""

from __future__ import annotations

from engine.book.inking import trailers
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan
from engine.drafts import by_hand
from engine.people.identity import require, seal
from engine.views import LeftAlone, Upgraded, UpgradedFile
from schemas.document import FORMATS, kind_of
from schemas.errors import ReadError, Refused
from schemas.rewriting import format_of, renamed, rewritten
from schemas.upgrade import is_old

Found = tuple[list[UpgradedFile], dict[str, bytes | None], list[LeftAlone]]


def upgrade(session: Session, *, ink: bool) -> Upgraded:
    """What an upgrade changes, file by file; with `ink` it is made, by a lead.

    Refused for nobody's, a setter's or an auditor's `ink`, and where a newer program wrote.
    """
    session.inker.mend_if_needed()
    session.refresh()
    files, _, left = _look(session)
    if not ink or not files:
        return Upgraded(tuple(files), tuple(left))
    require(session.identity, lead=True, what="bring the book's files to the present format")

    def plan(head: str) -> CommitPlan:
        session.move_to(head)
        require(session.identity, lead=True, what="bring the book's files to the present format")
        files[:], texts_now, left[:] = _look(session)
        if not texts_now:
            raise Refused("others brought all files to the present format meanwhile")
        count = len(files)
        return CommitPlan(
            f"{count} file{'s'[: count > 1]} brought to the present format",
            [f"{file.path}: format {file.old} -> {file.new}" for file in files],
            trailers(session.identity, "upgrade", Held("book", "book.toml", "book", ""), ""),
            seal(session.identity, session.clock()),
            texts_now,
        )

    commit = session.inker.commit(plan)
    session.refresh()
    return Upgraded(tuple(files), tuple(left), commit)


def _look(session: Session) -> Found:
    """Files of older formats, their new texts, and those that are left alone."""
    files: list[UpgradedFile] = []
    texts: dict[str, bytes | None] = {}
    left: list[LeftAlone] = []
    for held in session.places():
        kind, data = kind_of(held.path), session.git.blob(held.blob)
        number = format_of(data, held.path)
        if kind is None or not is_old(kind, number):
            continue
        made = _made(session, held, data)
        if isinstance(made, str):
            left.append(LeftAlone(held.name, held.path, made))
        else:
            names = tuple(renamed(data, held.path))
            files.append(UpgradedFile(held.name, held.path, number, FORMATS[kind], names))
            texts[held.path] = made
    return files, texts, left


def _made(session: Session, held: Held, data: bytes) -> bytes | str:
    """The text in the present format, or why there is none, in words."""
    found = by_hand.look(session.folder, held.path, data)
    if found is not None:
        return "the file on disk is not as inked"
    try:
        document = session.past.document(held.path, held.blob)
    except ReadError as error:
        return f"it cannot be used: {error.problems[0].what}"
    made = rewritten(data, held.path)
    if made is None and not document.comments:
        return document.bytes
    return made or "it was written by hand, and its comments would be lost; inking it keeps them"
