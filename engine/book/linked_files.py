"""Linked files of a record: its program and its photos, on disk and as inked.

A file counts where it lies in a folder that the book allows; what lies elsewhere is
never read into a commit (a finding tells).
"""

from __future__ import annotations

from engine.book.session import Session
from engine.repo.object_id import object_id
from engine.repo.work_tree import NotRead, read_file
from schemas.book import BookFile
from schemas.document import Document
from schemas.errors import UsageError
from schemas.record import Record, is_link


def links_of(document: Document) -> dict[str, str]:
    """Linked files of a record: address of the link -> path."""
    return {a: str(path) for a, path in document.values.items() if is_link(a)}


def in_roots(book: BookFile, address: str, path: str) -> bool:
    """Whether a linked path lies in one of the folders that the book allows."""
    roots = book.program_roots() if address == "program.file" else book.photo_roots()
    return any(path.startswith(root.rstrip("/") + "/") for root in roots)


def changed_links(session: Session, document: Document) -> dict[str, bytes]:
    """Linked files inside the roots whose bytes on disk are not the inked ones.

    NotRead where the disk does not say.
    """
    if not isinstance(document.model, Record):
        return {}
    book = session.book_file()
    found: dict[str, bytes] = {}
    for address, path in links_of(document).items():
        if not in_roots(book, address, path):
            continue
        try:
            data = read_file(session.folder, path)
        except NotRead:
            raise  # a record and its program are of one save
        except UsageError:
            continue  # a finding tells; it does not keep the record from being inked
        if data is not None and blob_id(data, session.entries.get(path, "")) != session.entries.get(
            path
        ):
            found[path] = data
    return found


def blob_id(data: bytes, like: str = "") -> str:
    """The id that git gives to these bytes, in the form of `like`."""
    return object_id(b"blob", data, long=len(like) == 64)
