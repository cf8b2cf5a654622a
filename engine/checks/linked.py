"""A linked file as it lies on disk now: is it there, may it be, and which bytes has it.

The bytes are read anew at each check, so nothing here can be stale; what was
worked out from them (is it a picture, how does the program end) is kept by
their hash. A picture is decoded, never trusted: few formats, bounded in pixels,
and a warning of the decoder counts as a fault.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from engine.book.linked_files import blob_id, in_roots
from engine.book.programs import facts_of
from engine.cache import LruCache
from engine.programs import ProgramFacts, canonical_code
from engine.repo.work_tree import check_path, read_file
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.errors import UsageError

PICTURES = ("JPEG", "PNG", "WEBP")
MOST_PIXELS = 50_000_000

LinkState = Literal["here", "missing", "outside", "unreadable"]


@dataclass(frozen=True, slots=True)
class Linked:
    """A linked file. `why` and `hint` say why it is `outside` or `unreadable`.

    `inked` says whether the book's head holds these very bytes at this path;
    `fault` is what is wrong with a picture, empty for a program.
    """

    path: str
    state: LinkState
    why: str = ""
    hint: str = ""
    sha256: str = ""
    inked: bool = False
    fault: str = ""


def look_at(
    folder: Path, book: BookFile | None, address: str, path: str, inked_blob: str
) -> Linked:
    """A linked file as it is now. Where the book's own file is unreadable, no root is missed."""
    try:
        check_path(path)
    except UsageError as error:
        return Linked(path, "outside", error.what, error.hint)
    if book is not None and not in_roots(book, address, path):
        roots = book.program_roots() if address == "program.file" else book.photo_roots()
        why = f"{path} lies outside {' and '.join(roots)}, so it is not inked with the record"
        return Linked(path, "outside", why)
    try:
        data = read_file(folder, path)
    except UsageError as error:
        return Linked(path, "unreadable", error.what, error.hint)
    except OSError as error:
        return Linked(path, "unreadable", f"{path} cannot be read: {error.strerror}")
    if data is None:
        return Linked(path, "missing", hint=_bring_back(path) if inked_blob else "")
    sha256 = hashlib.sha256(data).hexdigest()
    inked = blob_id(data, inked_blob) == inked_blob
    fault = "" if address == "program.file" else picture_fault(data, sha256)
    return Linked(path, "here", sha256=sha256, inked=inked, fault=fault)


def _bring_back(path: str) -> str:
    return f"It is inked, so history has it: put it back at {path}, or correct the path."


_PICTURES: LruCache[str] = LruCache(4096)


def picture_fault(data: bytes, sha256: str) -> str:
    """What is wrong with a picture, or empty."""
    return _PICTURES.get(sha256, lambda: _picture_fault(data))


def _picture_fault(data: bytes) -> str:
    from PIL import Image, UnidentifiedImageError  # not at start: only where photos are looked at

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(data), formats=PICTURES) as picture:
                across, along = picture.size
                if across * along > MOST_PIXELS:
                    return (
                        f"has {across} x {along} pixels, more than {MOST_PIXELS // 10**6} million"
                    )
                picture.draft("L", (1, 1))  # a JPEG at an eighth of its size: still read to its end
                picture.load()
    except UnidentifiedImageError:
        return f"is no picture of the kinds {', '.join(PICTURES)}"
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        return f"has more than {MOST_PIXELS // 10**6} million pixels"
    except Exception as error:  # foreign bytes: a decoder raises whatever it likes
        return f"cannot be read as a picture ({str(error) or type(error).__name__})"
    return ""


def program_facts(folder: Path, linked: Linked, cell: Cell) -> ProgramFacts | None:
    """What a linked program says, with the ends of a cell; None if it changed meanwhile."""
    try:
        facts = facts_of(read_file(folder, linked.path) or b"", cell)
    except (UsageError, OSError):
        return None
    return facts if facts.sha256 == linked.sha256 else None


def tended_ends(cell: Cell) -> list[str]:
    """Codes after which the loader goes on, in one spelling; others are left out."""
    return _codes(cell.cell.ends_tended or [])


def attended_ends(cell: Cell) -> list[str]:
    """Codes after which a person is waited for, in one spelling; others are left out."""
    return _codes(cell.cell.ends_attended or [])


def _codes(typed: list[str]) -> list[str]:
    found = []
    for text in typed:
        try:
            found.append(canonical_code(text))
        except ValueError:
            continue  # a finding about the cell tells
    return found
