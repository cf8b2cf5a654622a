"""Rules on the files in the book's folders of programs and photos."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, gathered, rule
from engine.checks.view import DocumentView, RecordView
from engine.drafts.by_hand import Found
from engine.repo import rights
from engine.repo.work_tree import check_path
from engine.views.wording import count
from schemas.address import Value
from schemas.errors import UsageError
from schemas.record import is_link

MOST_SAID = 20  # of one folder: a folder of old programs is one thing to say, not a thousand


@rule(
    "file-not-inked",
    "warning",
    "`witnessmark ink {record} --reason TEXT` takes it into history with the record.",
)
def file_not_inked(view: RecordView) -> Says:
    """History does not hold a linked file as it lies on disk, so it could not bring it back."""
    links = [("program", view.program, view.model.program.sha256)]
    links += [
        (f"photos.{name}", photo, view.model.photos[name].sha256) for name, photo in view.photos()
    ]
    for table, linked, known in links:
        if linked is None or linked.state != "here" or linked.inked:
            continue
        if known and known != linked.sha256:
            continue  # said already: another file than the proved or inked one
        ever = bool(view.inked_at(linked.path))
        what = "differs from the inked file" if ever else "was never inked"
        yield Say(f"{table}.file", f"{linked.path} {what}")


@rule("root-outside", "error", "Name a folder inside the book, as programs.", "book", ("book",))
def root_outside(view: BookView) -> Says:
    """A folder for linked files leads outside the book."""
    for kind, root in _roots(view):
        try:
            check_path(root.rstrip("/"))
        except UsageError as error:
            yield Say(f"roots.{kind}", error.what, document="book")


@rule(
    "open-to-all",
    "warning",
    "Let its owner close it: `chmod -R o-w DIR`, or `witnessmark share DIR` where it is shared.",
    "book",
    ("book",),
)
def open_to_all(view: BookView) -> Says:
    """Every account of the machine can write to the book's folder or change its past."""
    session = view.session
    for folder in rights.open_to_all(session.folder, *session.git.folders()):
        where = folder.relative_to(session.folder).as_posix()
        yield Say("", f"every account can write to {where}", file=where)


@rule(
    "file-unlinked",
    "note",
    "Link it from the record it belongs to, or take it out of the folder.",
    "book",
    ("book",),
)
def file_unlinked(view: BookView) -> Says:
    """A file in a folder of programs or photos belongs to no record."""
    meant, texts = _meant(view)
    for kind, root in _roots(view):
        loose = [
            path
            for path in _files_below(view.session.folder, root.rstrip("/"))
            if path not in meant and not any(path.encode() in text for text in texts)
        ]
        meant |= set(loose)  # said once, where two folders overlap
        for path in loose[:MOST_SAID]:
            yield Say(f"roots.{kind}", f"no record links to {path}", "", "book", path, 0)
        if len(loose) > MOST_SAID:
            more = f"{count(len(loose) - MOST_SAID, 'more file')} in {root}: linked to no record"
            yield Say(f"roots.{kind}", more, document="book")


def _roots(view: BookView) -> Iterator[tuple[str, str]]:
    if view.file is not None:
        yield from (("programs", root) for root in view.file.program_roots())
        yield from (("photos", root) for root in view.file.photo_roots())


def _meant(view: BookView) -> tuple[set[str], list[bytes]]:
    """Paths that a record links to in ink, in pencil or on disk; texts that nobody can read."""
    meant: set[str] = set()
    texts: list[bytes] = []
    for _, (paths, unread) in view.gathered(links):
        meant.update(paths)
        texts += [text.encode("utf-8", "surrogateescape") for text in unread]
    for found in view.strays.values():
        paths, unread = _of_file(found)
        meant.update(paths)
        texts += unread
    for draft in view.drafts:
        marks = {mark.address: mark.value for mark in draft.marks if mark.value is not None}
        meant |= _links(marks)
    return meant, texts


@gathered("links", "document")
def links(view: DocumentView) -> object:
    """Links of a document, in ink and on disk, and those of its texts that nobody can read."""
    paths, unread = _of_file(view.found) if view.found else (set(), [])
    if view.document is not None:
        paths |= _links(view.document.values)
    else:
        unread.append(view.inked)
    if not paths and not unread:
        return None
    return [sorted(paths), [text.decode("utf-8", "surrogateescape") for text in unread]]


def _of_file(found: Found) -> tuple[set[str], list[bytes]]:
    if found.document is not None:
        return _links(found.document.values), []
    return set(), [found.data] if found.data is not None else []


def _links(values: Mapping[str, Value]) -> set[str]:
    return {str(path) for address, path in values.items() if is_link(address)}


def _files_below(folder: Path, root: str) -> list[str]:
    """Ordinary files below a folder of the book, no hidden ones, never through a link."""
    try:
        check_path(root)
    except UsageError:
        return []
    parts = root.split("/")
    if any((folder / "/".join(parts[: n + 1])).is_symlink() for n in range(len(parts))):
        return []
    return sorted(_walk(os.fspath(folder / root), root))


def _walk(folder: str, path: str) -> Iterator[str]:
    try:
        entries = list(os.scandir(folder))
    except OSError:
        return
    for entry in entries:
        if entry.name.startswith("."):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _walk(entry.path, f"{path}/{entry.name}")
        elif entry.is_file(follow_symlinks=False):
            yield os.fsencode(f"{path}/{entry.name}").decode("utf-8", "replace")
