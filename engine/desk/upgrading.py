"""Bringing a book's files to the present format, all in one commit that changes no value.

Whatever was said before holds after: sign-offs, confirmations, pencil, runs and prove-out
stages lean on values, and history has no row for a change of format. A file that is not as
inked is somebody's work and is left. Runs, sign-offs and events are written once and stay.
"""

from __future__ import annotations

from engine.answers import LeftAlone, Upgraded, UpgradedFile
from engine.desk.inking import trailers
from engine.desk.shelf import Held, Shelf
from engine.history import disk
from engine.history.ink import Plan
from engine.people.identity import require, seal
from schemas.document import FORMATS, kind_of
from schemas.errors import ReadError, Refused
from schemas.rewriting import format_of, renamed, rewritten
from schemas.upgrade import is_old

Found = tuple[list[UpgradedFile], dict[str, bytes | None], list[LeftAlone]]


def upgrade(shelf: Shelf, *, ink: bool) -> Upgraded:
    """What an upgrade changes, file by file; with `ink` it is made, by a lead.

    Refused for nobody's, a setter's or an auditor's `ink`, and where a newer program wrote.
    """
    shelf.inker.mend_if_needed()
    shelf.refresh()
    files, _, left = _look(shelf)
    if not ink or not files:
        return Upgraded(tuple(files), tuple(left))
    require(shelf.identity, lead=True, what="bring the book's files to the present format")

    def plan(head: str) -> Plan:
        shelf.move_to(head)
        require(shelf.identity, lead=True, what="bring the book's files to the present format")
        files[:], texts_now, left[:] = _look(shelf)
        if not texts_now:
            raise Refused("others brought all files to the present format meanwhile")
        count = len(files)
        return Plan(
            f"{count} file{'s'[: count > 1]} brought to the present format",
            [f"{file.path}: format {file.old} -> {file.new}" for file in files],
            trailers(shelf.identity, "upgrade", Held("book", "book.toml", "book", ""), ""),
            seal(shelf.identity, shelf.clock()),
            texts_now,
        )

    commit = shelf.inker.commit(plan)
    shelf.refresh()
    return Upgraded(tuple(files), tuple(left), commit)


def _look(shelf: Shelf) -> Found:
    """Files of older formats, their new texts, and those that are left alone."""
    files: list[UpgradedFile] = []
    texts: dict[str, bytes | None] = {}
    left: list[LeftAlone] = []
    for held in shelf.places():
        kind, data = kind_of(held.path), shelf.git.blob(held.blob)
        number = format_of(data, held.path)
        if kind is None or not is_old(kind, number):
            continue
        made = _made(shelf, held, data)
        if isinstance(made, str):
            left.append(LeftAlone(held.name, held.path, made))
        else:
            names = tuple(renamed(data, held.path))
            files.append(UpgradedFile(held.name, held.path, number, FORMATS[kind], names))
            texts[held.path] = made
    return files, texts, left


def _made(shelf: Shelf, held: Held, data: bytes) -> bytes | str:
    """The text in the present format, or why there is none, in words."""
    found = disk.look(shelf.folder, held.path, data)
    if found is not None:
        return "the file on disk is not as inked"
    try:
        document = shelf.past.document(held.path, held.blob)
    except ReadError as error:
        return f"it cannot be used: {error.problems[0].what}"
    made = rewritten(data, held.path)
    if made is None and not document.comments:
        return document.bytes
    return made or "it was written by hand, and its comments would be lost; inking it keeps them"
