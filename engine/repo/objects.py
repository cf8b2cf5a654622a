"""Objects written as git writes them, without starting git: a save needs a handful of them.

An object is on the disk, its name in its folder too, before its id is returned. It
is written beside its place and renamed, so a reader sees all of it or nothing;
what a kill leaves is a `tmp_obj_…`, which git itself clears away. A folder of the
parent that a save does not touch keeps its id and is not read.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import stat
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cached_property
from pathlib import Path

from schemas.errors import BookError

FILE, FOLDER = b"100644", b"40000"
Read = Callable[[str], tuple[str, bytes]]  # id -> id, bytes


class LooseObjects:
    """Writes loose objects into one repository; `read` reads any object of it."""

    def __init__(self, private: Path, read: Read) -> None:
        self._folder = private / "objects"
        self._read = read

    @cached_property
    def _long(self) -> bool:
        """Whether the repository names its objects by SHA-256."""
        text = (self._folder.parent / "config").read_text(encoding="utf-8", errors="replace")
        return bool(re.search(r"objectformat\s*=\s*\"?sha256", text, re.IGNORECASE))

    def write(self, kind: bytes, data: bytes) -> str:
        """Store one object, durably; its id."""
        whole = b"%s %d\0" % (kind, len(data)) + data
        oid = (hashlib.sha256 if self._long else hashlib.sha1)(whole).hexdigest()
        target = self._folder / oid[:2] / oid[2:]
        self._make(target.parent)
        if target.exists():  # whoever wrote it may not have flushed it
            sync(target)
        else:
            self._write(target, zlib.compress(whole, 1))
        sync(target.parent)
        return oid

    def _make(self, folder: Path) -> None:
        if folder.is_dir():
            return
        folder.mkdir(exist_ok=True)
        with suppress(PermissionError):  # made by another account at this very moment
            folder.chmod(stat.S_IMODE(self._folder.stat().st_mode))
        sync(self._folder)

    @staticmethod
    def _write(target: Path, data: bytes) -> None:
        draft = target.with_name(f"tmp_obj_{secrets.token_hex(6)}")
        try:
            with draft.open("xb") as file:
                file.write(data)
                file.flush()
                os.fchmod(file.fileno(), 0o444)
                os.fsync(file.fileno())
            draft.replace(target)
        except BaseException:
            with suppress(OSError):
                draft.unlink(missing_ok=True)
            raise

    def folder_with(self, root: str, files: Mapping[str, str | None]) -> str:
        """The folder `root` ("" for an empty one) with files set or taken out, by path; its id."""
        made = self._folder_with(root, files)
        return made or self.write(b"tree", b"")

    def _folder_with(self, oid: str, files: Mapping[str, str | None]) -> str:
        """The same; empty where nothing is left in it."""
        entries = self._entries(oid) if oid else {}
        below: dict[str, dict[str, str | None]] = {}
        for path, blob in files.items():
            name, slash, rest = path.partition("/")
            _check(name, path)
            if slash:
                below.setdefault(name, {})[rest] = blob
            elif blob:
                entries[_name(name)] = (FILE, blob)
            else:
                entries.pop(_name(name), None)
        for name, inner in below.items():
            mode, known = entries.get(_name(name), (FOLDER, ""))
            made = self._folder_with(known if mode == FOLDER else "", inner)
            if made:
                entries[_name(name)] = (FOLDER, made)
            elif mode == FOLDER:
                entries.pop(_name(name), None)
        return self.write(b"tree", _packed(entries)) if entries else ""

    def _entries(self, oid: str) -> dict[bytes, tuple[bytes, str]]:
        found, data = self._read(oid)
        if not found:
            raise BookError(
                f"object {oid[:12]} is missing from the history",
                hint="Fetch it from another copy of the book.",
            )
        entries = {}
        start, width = 0, len(oid) // 2
        while start < len(data):
            zero = data.index(b"\0", start)
            mode, _, name = data[start:zero].partition(b" ")
            start = zero + 1 + width
            entries[name] = (mode, data[zero + 1 : start].hex())
        return entries


def _name(name: str) -> bytes:
    return name.encode("utf-8", "surrogateescape")


def _check(name: str, path: str) -> None:
    if name in ("", ".", "..") or name.lower() == ".git" or "\0" in name:
        raise BookError(f"the path {path!r} cannot stand in a book", hint="Choose another name.")


def _packed(entries: Mapping[bytes, tuple[bytes, str]]) -> bytes:
    """Entries in git's order: by name, a folder's as if a slash stood behind it."""

    def place(name: bytes) -> bytes:
        return name + b"/" if entries[name][0] == FOLDER else name

    ordered = [(name, *entries[name]) for name in sorted(entries, key=place)]
    return b"".join(b"%s %s\0" % (mode, name) + bytes.fromhex(oid) for name, mode, oid in ordered)


def sync(path: Path) -> None:
    """Flush what stands in a file, or the names in a folder, to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
