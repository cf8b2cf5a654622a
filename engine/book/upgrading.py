"""Bringing a book's files to the present format, all in one commit that changes no value.

Whatever was said before holds after: sign-offs, confirmations, pencil, runs and prove-out
stages lean on values, and history has no row for a change of format. A file that is not as
inked is somebody's work and is left. Runs, sign-offs and events are written once and stay.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.book.saving import Save, save
from engine.book.session import Held, Session
from engine.drafts import by_hand
from engine.views import LeftAlone, Upgraded, UpgradedFile
from engine.views.wording import count
from schemas.document import FORMATS, kind_of
from schemas.errors import ReadError, Refused
from schemas.rewriting import format_of, renamed, rewritten
from schemas.upgrade import is_old


@dataclass(frozen=True, kw_only=True)
class UpgradeSave(Save):
    """A save of files in the present format, and what was left alone."""

    files: tuple[UpgradedFile, ...]
    left: tuple[LeftAlone, ...]


def upgrade(session: Session, *, ink: bool) -> Upgraded:
    """What an upgrade changes, file by file; with `ink` it is made, by a lead.

    Refused for nobody's, a setter's or an auditor's `ink`, and where a newer program wrote.
    """
    session.inker.mend_if_needed()
    session.refresh()
    found = _look(session)
    if not ink or not found.files:
        return Upgraded(found.files, found.left)

    def plan() -> UpgradeSave:
        made = _look(session)
        if not made.files:
            raise Refused("others brought all files to the present format meanwhile")
        return made

    what = "bring the book's files to the present format"
    done = save(session, plan, what=what, lead=True)
    return Upgraded(done.kept.files, done.kept.left, done.commit)


def _look(session: Session) -> UpgradeSave:
    """Files of older formats, their new texts, and those that are left alone."""
    files: list[UpgradedFile] = []
    texts: dict[str, bytes | None] = {}
    left: list[LeftAlone] = []
    for held in session.places():
        kind, data = kind_of(held.path), session.git.blob(held.blob)
        number = format_of(data)
        if kind is None or not is_old(kind, number):
            continue
        made = _made(held, data)
        if isinstance(made, str):
            left.append(LeftAlone(held.name, held.path, made))
        else:
            names = tuple(renamed(data, held.path))
            files.append(UpgradedFile(held.name, held.path, number, FORMATS[kind], names))
            texts[held.path] = made
    return UpgradeSave(
        Held(session, "book", "book.toml", "book", ""),
        "upgrade",
        f"{count(len(files), 'file')} brought to the present format",
        texts,
        body=tuple(f"{file.path}: format {file.old} -> {file.new}" for file in files),
        files=tuple(files),
        left=tuple(left),
    )


def _made(held: Held, data: bytes) -> bytes | str:
    """The text in the present format, or why there is none, in words."""
    found = by_hand.look(held.session.folder, held.path, data)
    if found is not None:
        return "the file on disk is not as inked"
    try:
        document = held.read()
    except ReadError as error:
        return f"it cannot be used: {error.problems[0].what}"
    made = rewritten(data, held.path)
    if made is None and not document.comments:
        return document.bytes
    return made or "it was written by hand, and its comments would be lost; inking it keeps them"
