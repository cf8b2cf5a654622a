"""The note of a save on its way, and of what earlier saves have still to do.

Invariant: it is on the disk before the branch moves, and names everything that has to
be done afterwards, until it is done. What a save could not do is carried over into the
note of the next one: each path with every text that saves may have left there, oldest
first, so that two saves of one value are told from a stage by hand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from engine.book.note_of_save import stop_if_unsound
from engine.repo.journal import JournalLine
from engine.repo.private import OddFile, read_note, read_private, write_private

Olds = dict[str, list[str | None]]  # path -> blobs (None: nothing) that saves left there


class InkedPencil(NamedTuple):
    """Pencil that a commit inks: it is closed when the commit is published."""

    person: str
    document: str  # as journals are named
    draft: str
    marks: Sequence[JournalLine]


class AsidePencil(NamedTuple):
    """What a merge did not take: it is put down in somebody's pencil once that is published."""

    person: str
    document: str
    marks: Sequence[JournalLine]


@dataclass
class Todo:
    """What published saves have still to do."""

    files: Olds = field(default_factory=dict)  # of the work tree
    behind: Olds = field(default_factory=dict)  # entries of git's index
    closing: list[tuple[str, InkedPencil]] = field(default_factory=list)  # with their commits
    asides: list[tuple[str, AsidePencil]] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.files or self.behind or self.closing or self.asides)


@dataclass
class Intent:
    """One save about to be published, and what was to be done before it."""

    commit: str
    parent: str
    paths: Sequence[str] = field(default_factory=list)
    pencil: InkedPencil | None = None
    aside: Sequence[AsidePencil] = field(default_factory=list)
    todo: Todo = field(default_factory=Todo)

    def due(self, before: Mapping[str, str]) -> Todo:
        """All that is to be done once it is published; `before` are the files of its parent."""
        todo = self.todo
        for olds in (todo.files, todo.behind):
            for path in self.paths:
                known = olds.setdefault(path, [])
                if before.get(path) not in known:
                    known.append(before.get(path))
        if self.pencil is not None:
            todo.closing.append((self.commit, self.pencil))
        todo.asides += [(self.commit, each) for each in self.aside]
        return todo


def write_intent(file: Path, intent: Intent) -> None:
    """Put it on the disk."""
    note = {
        "commit": intent.commit,
        "parent": intent.parent,
        "paths": list(intent.paths),
        "pencil": intent.pencil,
        "aside": list(intent.aside),
        "behind": intent.todo.behind,
        "files": intent.todo.files,
        "closing": intent.todo.closing,
        "asides": intent.todo.asides,
    }
    write_private(file.parent, file.name, json.dumps(note).encode())


def read_intent(file: Path) -> Intent | None:
    """The note as it stands; None where there is none, or what lies there is none.

    OSError where it may be one, and cannot be read.
    """
    try:
        data = read_private(file.parent, file.name)
        note = None if data is None else read_note(data)
        if note is None:
            return None
        stop_if_unsound(note)
    except (OddFile, ValueError, TypeError, KeyError):
        return None
    return _made(note)


def _made(note: Mapping[str, Any]) -> Intent:
    pencil, todo = note["pencil"], Todo()
    todo.behind = {path: _list(olds) for path, olds in note["behind"].items()}
    todo.files = {path: _list(olds) for path, olds in note.get("files", {}).items()}
    todo.closing = [(commit, InkedPencil(*each)) for commit, each in note.get("closing", ())]
    todo.asides = [(commit, AsidePencil(*each)) for commit, each in note.get("asides", ())]
    return Intent(
        note["commit"],
        note["parent"],
        list(note["paths"]),
        InkedPencil(*pencil) if pencil else None,
        [AsidePencil(*each) for each in note.get("aside", ())],
        todo,
    )


def _list(olds: list[str | None] | str | None) -> list[str | None]:
    """A note of before has one text a path only: the newest one."""
    return list(olds) if isinstance(olds, list) else [olds]
