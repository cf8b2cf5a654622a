"""To mend: finish a save that was published, drop one that was not.

The intent, a small file in the book's private folder, says what a save was about to
publish. It is written before the branch moves and taken away when nothing is left to
do; each step of mending may be done again and changes nothing then. The table in
`transaction` and `docs/crash-points.md` say what each crash point leaves.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from engine.book.note_of_save import stop_if_unsound
from engine.drafts.pencil import Pencil
from engine.repo.git import Git
from engine.repo.journal import JournalLine
from engine.repo.lock import take_stale_aside
from engine.repo.private import put_aside, read_note, read_private
from engine.repo.work_tree import forget_drafts, read_file, remove_file, replace, write_file
from schemas.errors import BookError, UsageError


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


class Mender:
    """Brings files, index and pencil up to a published save; needs the save lock."""

    def __init__(self, git: Git, private: Path) -> None:
        self.git = git
        self.folder = git.folder
        self.private = private

    @property
    def _intent(self) -> Path:
        return self.private / "intent.json"

    def intend(
        self, commit: str, parent: str, paths: Sequence[str], pencil: InkedPencil | None,
        aside: Sequence[AsidePencil],
    ) -> None:  # fmt: skip
        """Note what is about to be published, before the branch moves."""
        intent = {
            "commit": commit,
            "parent": parent,
            "pencil": pencil,
            "paths": paths,
            "aside": aside,
            "behind": self._read_intent().get("behind", {}),
        }
        replace(self._intent, json.dumps(intent).encode())

    def mend(self) -> None:
        """Finish a save that was published, or drop one that was not. Needs the lock."""
        take_stale_aside(self.private, self.git.branch())
        self.git.forget_trees()
        intent = self._read_intent()
        if not intent:
            if os.path.lexists(self._intent):  # something else's: nothing is deleted
                put_aside(self.private, self._intent.name)
            return
        head = self.git.head()
        known = self.git.object(intent["commit"])[0]
        published = known and head and self.git.is_ancestor(intent["commit"], head)
        behind = self._finish(intent, head) if published else intent["behind"]
        if behind:
            left = {**intent, "paths": [], "pencil": None, "aside": [], "behind": behind}
            replace(self._intent, json.dumps(left).encode())
        else:
            self._intent.unlink(missing_ok=True)

    def _read_intent(self) -> dict[str, Any]:
        """The note; nothing where there is none, or what lies there is none."""
        try:
            data = read_private(self.private, self._intent.name)
            intent: dict[str, Any] = read_note(data) if data is not None else {}
            if data is not None:
                stop_if_unsound(intent)
        except (OSError, ValueError, TypeError, KeyError):
            return {}
        return intent

    def unfinished(self) -> bool:
        """Whether a save is going on now, or was left unfinished."""
        return os.path.lexists(self._intent)

    def _finish(self, intent: Mapping[str, Any], head: str) -> dict[str, str | None]:
        """All steps after the branch moved; index entries that could not be brought."""
        now = self.git.tree(head)
        before = self.git.tree(intent["parent"]) if intent["parent"] else {}
        for path in intent["paths"]:
            self._bring_file(path, before.get(path), now.get(path))
        old = {path: before.get(path) for path in intent["paths"]}
        behind = self._bring_index(intent["behind"] | old, now)
        if intent["pencil"]:
            person, document, draft, marks = intent["pencil"]
            Pencil(self.private, person, document).inked(draft, intent["commit"], marks)
        for person, document, marks in intent.get("aside", ()):
            Pencil(self.private, person, document).set_aside(intent["commit"], marks)
        return behind

    def _bring_file(self, path: str, old: str | None, new: str | None) -> None:
        """Write a work-tree file only where it is still the parent's, or missing."""
        try:
            disk = read_file(self.folder, path)
        except UsageError:  # a link, a pipe, a device: somebody's edit by hand, left as it is
            return
        forget_drafts(self.folder, path)
        data = self.git.blob(new) if new else None
        if disk == data:
            return
        if disk is None or (old and disk == self.git.blob(old)):
            if data is None:
                remove_file(self.folder, path)
            else:
                write_file(self.folder, path, data)

    def _bring_index(
        self, old: Mapping[str, str | None], now: Mapping[str, str]
    ) -> dict[str, str | None]:
        """Bring index entries that are still the parent's up to date; those that failed.

        Without this, a later commit by hand would take a colleague's save back.
        """
        entries = self.git.index_entries(list(old)) if len(old) < 100 else self.git.index_entries()
        stale = {p for p in old if entries.get(p) == old[p] and entries.get(p) != now.get(p)}
        if stale:
            try:
                self.git.set_index({path: now.get(path) for path in stale})
            except BookError:  # somebody's own git holds the index; the save itself is safe
                return {path: old[path] for path in stale}
        return {}
