"""What was changed on disk outside the program: noticed, offered, never swallowed.

The head is the truth. A file that differs from it is somebody's intent: it can
become pencil, or the inked text can be put back; either way a copy of the found
bytes is kept in the private folder first.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Container
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from engine.repo.private import write_private
from engine.repo.work_tree import read_file
from schemas.address import put
from schemas.document import Document, check_tree, kind_of, read_document
from schemas.errors import Problem, ReadError, UsageError


@dataclass(frozen=True)
class Found:
    """A file that differs from the head: its bytes (None: gone), and what they say."""

    path: str
    data: bytes | None
    document: Document | None
    problems: tuple[Problem, ...] = ()


def look(folder: Path, path: str, inked: bytes | None) -> Found | None:
    """What is on disk at a document's path, or None where it is as inked."""
    try:
        data = read_file(folder, path)
    except UsageError as error:
        problem = Problem(path, 0, "", error.what, error.hint)
        return Found(path, None, None, (problem,))
    if data == inked:
        return None
    if data is None:
        return Found(path, None, None)
    try:
        return Found(path, data, read_document(data, path))
    except ReadError as error:
        return Found(path, data, None, tuple(error.problems))


def strays(folder: Path, known: Container[str]) -> list[str]:
    """Paths of records and cells on disk that were never inked."""
    found = []
    for kind in ("records", "cells"):
        place = folder / kind
        if place.is_symlink() or not place.is_dir():
            continue  # what a link leads to is not the book's
        names = (entry.name for entry in os.scandir(place) if entry.name.endswith(".toml"))
        paths = (f"{kind}/{name}" for name in sorted(names) if not name.startswith("."))
        found += [path for path in paths if path not in known and kind_of(path)]
    return found


def keep_copy(private: Path, path: str, data: bytes, at: datetime) -> Path:
    """Keep found bytes in the private folder; where they are."""
    name = f"{at:%Y%m%d-%H%M%S}-{secrets.token_hex(2)}-{path.replace('/', '-')}"
    write_private(private, f"found/{name}", data)
    return private / "found" / name


def with_comments_in_notes(document: Document) -> Document:
    """The document with the comments of its text moved into its notes."""
    if not document.comments:
        return document
    lines = [
        f"comment at {address or 'the top'}: {words}" for _, address, words in document.comments
    ]
    notes = str(document.values.get("notes.text", ""))
    fresh = [line for line in lines if line not in notes.split("\n")]
    tree = read_document(document.bytes, document.path).tree
    put(tree, "notes.text", "\n".join([*([notes.rstrip("\n")] if notes else []), *fresh]))
    return check_tree(tree, document.path)
