"""Objects written as git writes them, without starting git: a save needs a handful of them.

An object is on the disk, its name in its folder too, before its id is returned; those that
are stored together (`storing`) are when the block ends, and are flushed at once. It
is written beside its place and renamed, so a reader sees all of it or nothing;
what a kill leaves is a `tmp_obj_…`, which git itself clears away. A file that lies there
already counts only if it holds the object; a rotten one is written anew. A tree of the
parent that a save does not touch keeps its id and is not read.
"""

from __future__ import annotations

import re
import secrets
import threading
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path

from engine.repo.durable import Put, flush, make_folders, put_all_in_place
from engine.repo.object_id import is_broken_file, loose_file, object_id
from engine.repo.object_pipe import missing
from engine.repo.trees import BLOB_MODE, TREE_MODE, Read, tree_entries
from schemas.errors import BookError


class LooseObjects:
    """Writes loose objects into one repository; `read` reads any object of it."""

    def __init__(self, private: Path, read: Read) -> None:
        self._folder = private / "objects"
        self._read = read
        self._waiting = threading.local()  # what is to be flushed together, of each thread

    @cached_property
    def _long(self) -> bool:
        """Whether the repository names its objects by SHA-256."""
        text = (self._folder.parent / "config").read_text(encoding="utf-8", errors="replace")
        return bool(re.search(r"objectformat\s*=\s*\"?sha256", text, re.IGNORECASE))

    @contextmanager
    def storing(self) -> Iterator[None]:
        """Flush what this thread writes in here at once, at its end; nothing where it is left
        by an error."""
        waiting: dict[str, tuple[bytes, bytes]] = {}
        self._waiting.objects = waiting
        try:
            yield
        finally:
            self._waiting.objects = None
        self._store(waiting)

    def write(self, kind: bytes, data: bytes) -> str:
        """Store one object, durably; its id."""
        oid = object_id(kind, data, long=self._long)
        waiting = getattr(self._waiting, "objects", None)
        if waiting is None:
            self._store({oid: (kind, data)})
        else:
            waiting[oid] = (kind, data)
        return oid

    def _store(self, objects: Mapping[str, tuple[bytes, bytes]]) -> None:
        private = self._folder.parent
        targets = {oid: loose_file(private, oid) for oid in objects}
        make_folders(*(target.parent for target in targets.values()))
        puts = []
        for oid, (kind, data) in objects.items():
            target = targets[oid]
            if target.exists() and not is_broken_file(private, oid):
                # whoever wrote it may not have flushed it
                flush(target)
                flush(target.parent)
                continue
            whole = b"%s %d\0" % (kind, len(data)) + data
            draft = target.with_name(f"tmp_obj_{secrets.token_hex(6)}")
            puts.append(Put(target, zlib.compress(whole, 1), draft, 0o444))
        put_all_in_place(puts)

    def tree_with(self, root: str, blobs: Mapping[str, str | None]) -> str:
        """The tree `root` ("" for an empty one) with blobs set or taken out, by path; its id."""
        made = self._tree_with(root, blobs)
        return made or self.write(b"tree", b"")

    def _tree_with(self, oid: str, blobs: Mapping[str, str | None]) -> str:
        """The same; empty where nothing is left in it."""
        entries = self._entries(oid) if oid else {}
        below: dict[str, dict[str, str | None]] = {}
        for path, blob in blobs.items():
            name, slash, rest = path.partition("/")
            _check(name, path)
            if slash:
                below.setdefault(name, {})[rest] = blob
            elif blob:
                entries[_name(name)] = (BLOB_MODE, blob)
            else:
                entries.pop(_name(name), None)
        for name, inner in below.items():
            mode, known = entries.get(_name(name), (TREE_MODE, ""))
            made = self._tree_with(known if mode == TREE_MODE else "", inner)
            if made:
                entries[_name(name)] = (TREE_MODE, made)
            elif mode == TREE_MODE:
                entries.pop(_name(name), None)
        return self.write(b"tree", _packed(entries)) if entries else ""

    def _entries(self, oid: str) -> dict[bytes, tuple[bytes, str]]:
        found, data = self._read(oid)
        if not found:
            raise missing(oid)
        return {name: (mode, inner) for mode, name, inner in tree_entries(data, len(oid) // 2)}


def _name(name: str) -> bytes:
    return name.encode("utf-8", "surrogateescape")


def _check(name: str, path: str) -> None:
    if name in ("", ".", "..") or name.lower() == ".git" or "\0" in name:
        raise BookError(f"the path {path!r} cannot stand in a book", hint="Choose another name.")


def _packed(entries: Mapping[bytes, tuple[bytes, str]]) -> bytes:
    """Entries in git's order: by name, a tree's as if a slash stood behind it."""

    def place(name: bytes) -> bytes:
        return name + b"/" if entries[name][0] == TREE_MODE else name

    ordered = [(name, *entries[name]) for name in sorted(entries, key=place)]
    return b"".join(b"%s %s\0" % (mode, name) + bytes.fromhex(oid) for name, mode, oid in ordered)
