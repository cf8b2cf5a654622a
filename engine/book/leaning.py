"""What an answer leans on, so that it can be kept and is asked again once that changed.

Invariant: an answer counts as long as every source that was looked at for it is in the
state that it had then. A source is a word with a space behind it and a name:

    ink PATH       the text of a file at the head
    folder PATH    all files below a folder at the head
    disk PATH      a file of the work tree, as the file system tells of it
    life KEY       the past of a document
    commit ID      whether a commit is in the past of the head
    head           the head itself

States are texts, and equal for equal sources only. A file that was written a moment ago
has none, since it may be written again within the same tick of the file system's clock.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Protocol

from engine.book.kept_parts import YOUNG, Leaning
from engine.log.past import Past
from engine.repo.trees import Files

_TICK = 2_000_000_000  # ns: no file system tells times more coarsely


class Stands(Protocol):
    """What stands at present: a session."""

    folder: Path
    head: str
    entries: Files
    past: Past


class Sources:
    """The states of sources at the present head, and at one look at the disk.

    Those of the head stay known when it moves, but for what differs there.
    """

    def __init__(self, session: Stands) -> None:
        self._session = session
        self._head, self._entries = session.head, session.entries
        self._known: dict[str, str] = {}
        self._lives: dict[str, str] | None = None
        self._folders: dict[str, str] = {}
        self._root = os.fspath(session.folder)
        self._kinds: dict[str, Callable[[str], str]] = {
            "ink": lambda path: session.entries.get(path, ""),
            "folder": self._folder_id,
            "disk": self._disk,
            "life": self._life,
            "commit": lambda commit: str(session.past.has(commit)),
            "head": lambda _: session.head,
        }

    def look_again(self) -> None:
        """Forget what may be otherwise by now: everything on the disk, and what a save changed."""
        stale = [source for source in self._known if source.startswith("disk ")]
        self._folders = {}
        if self._head != self._session.head:
            stale += [s for s in self._known if s.startswith(("life ", "commit ", "head"))]
            stale += self._differing(self._session.entries) if self._known else ()
            self._head, self._entries = self._session.head, self._session.entries
            self._lives = None
        for source in stale:
            self._known.pop(source, None)

    def _differing(self, now: Files) -> Iterator[str]:
        """Files that a move of the head brought, changed or took out, and all folders above."""
        before = self._entries
        for path, _ in (*now.differing(before), *before.differing(now)):
            yield f"ink {path}"
            yield from (f"folder {above}" for above in PurePosixPath(path).parents)

    def state(self, source: str) -> str:
        """The state of a source; looked up once."""
        known = self._known.get(source)
        if known is None:
            kind, _, name = source.partition(" ")
            known = self._known[source] = self._kinds[kind](name)
        return known

    def hold(self, leans: Leaning) -> bool:
        """Whether every source is in the state that it had."""
        known = self._known
        for source, then in leans.items():
            now = known.get(source)
            if then != (self.state(source) if now is None else now):
                return False
        return True

    def _folder_id(self, path: str) -> str:
        return self._session.entries.folder_id(path)

    def _life(self, key: str) -> str:
        if self._lives is None:
            self._lives = self._session.past.lives()
        return self._lives.get(key, "")

    def _disk(self, path: str) -> str:
        above = path.rpartition("/")[0]
        folder = self._folders.get(above)
        if folder is None:
            folder = self._folders[above] = self._folder(above)
        try:
            found = os.lstat(f"{self._root}/{path}")
        except OSError as error:
            return f"{folder} {error.errno}"
        at = (found.st_mtime_ns, found.st_ctime_ns)
        if max(at) > time.time_ns() - _TICK:
            return YOUNG
        return f"{folder} {at[0]:x} {at[1]:x} {found.st_size:x} {found.st_ino:x}"

    def _folder(self, path: str) -> str:
        """Which folders lie above a file: another one may take their place, or a link."""
        parts = path.split("/") if path else []
        found = []
        for n in range(len(parts)):
            try:
                there = os.lstat(f"{self._root}/{'/'.join(parts[: n + 1])}")
            except OSError as error:
                return f"{error.errno}"
            found.append(f"{there.st_mode >> 12:x}{there.st_ino:x}")
        return "/".join(found)


class Leans:
    """Notes the sources that are looked at while something is worked out."""

    def __init__(self, sources: Sources) -> None:
        self._sources = sources
        self._noted: list[Leaning] = []

    def on(self, kind: str, name: str) -> None:
        """A source is about to be looked at."""
        if self._noted:
            source = f"{kind} {name}" if name else kind
            self._noted[-1][source] = self._sources.state(source)

    def doubt(self) -> None:
        """What is being worked out holds for this moment only."""
        if self._noted:
            self._noted[-1]["doubt"] = YOUNG

    @contextmanager
    def noting(self) -> Iterator[Leaning]:
        """What is looked at in here: sources and their states, whole at the end."""
        self._noted.append({})
        try:
            yield self._noted[-1]
        finally:
            self._noted.pop()
