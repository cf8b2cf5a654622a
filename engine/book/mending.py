"""To mend: finish a save that was published, drop one that was not.

The intent, a small file in the book's private folder, says what a save was about to
publish and what earlier ones have still to do. It is written before the branch moves
and taken away when nothing is left to do; each step of mending may be done again and
changes nothing then, and one that cannot be done holds up none of the others. The
table in `transaction` and `docs/crash-points.md` say what each crash point leaves.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from engine.book.intent import (
    AsidePencil,
    InkedPencil,
    Intent,
    Olds,
    Todo,
    read_intent,
    write_intent,
)
from engine.drafts.pencil import Pencil
from engine.repo import stale_locks
from engine.repo.git import Git
from engine.repo.git_index import Brought, GitIndex
from engine.repo.private import put_aside
from engine.repo.stale_locks import StandingLock
from engine.repo.trees import Files
from engine.repo.work_tree import NotRead, forget_drafts, read_file, remove_file, write_file
from schemas.errors import UsageError, WitnessmarkError

__all__ = ["AsidePencil", "InkedPencil", "Mender"]

A_MOMENT = 0.5  # seconds: so long a git by hand may have the index before it is told


@dataclass(frozen=True)
class Mended:
    """What a person should know after a mending: put aside, staged by hand, not done."""

    aside: Sequence[str] = ()
    standing: Sequence[StandingLock] = ()
    staged: Sequence[str] = ()
    todo: Todo = field(default_factory=Todo)
    why: str = ""  # why a file could not be written


class Mender:
    """Brings files, index and pencil up to a published save; needs the save lock."""

    def __init__(self, git: Git, private: Path) -> None:
        self.git = git
        self.folder = git.folder
        self.private = private
        self.index = GitIndex(git)

    @property
    def _intent(self) -> Path:
        return self.private / "intent.json"

    def intend(
        self, commit: str, parent: str, paths: Sequence[str], pencil: InkedPencil | None,
        aside: Sequence[AsidePencil],
    ) -> None:  # fmt: skip
        """Note what is about to be published, before the branch moves; keep other gits from
        the index meanwhile."""
        before = read_intent(self._intent)
        todo = before.todo if before else Todo()
        write_intent(self._intent, Intent(commit, parent, paths, pencil, aside, todo))
        if self.index.take(A_MOMENT) and not todo.behind:
            old, new = self.git.tree(parent), self.git.tree(commit)
            entries = [{path: files.get(path) for path in paths} for files in (old, new)]
            self.index.prepare(*entries)

    def mend(self) -> Mended:
        """Finish a save that was published, or drop one that was not. Needs the lock."""
        try:
            return self._mend()
        finally:
            self.index.let_go()

    def _mend(self) -> Mended:
        branch = self.git.branch()
        names = [f"{branch}.lock", "HEAD.lock", "packed-refs.lock"]
        if not self.index.is_ours():
            names.append(stale_locks.INDEX)
        aside, standing = stale_locks.look(self.private, names)
        self._forget_drafts()
        intent = read_intent(self._intent)
        if intent is None:
            if os.path.lexists(self._intent):  # something else's: nothing is deleted
                put_aside(self.private, self._intent.name)
            return Mended(aside, standing)
        done = self._finish(self._due(intent), self.git.tree(self.git.head()))
        if done.todo:
            left = Intent(intent.commit, intent.parent, todo=done.todo)
            if left != read_intent(self._intent):  # a look in vain writes nothing
                write_intent(self._intent, left)
        else:
            self.index.let_go()
            self._intent.unlink(missing_ok=True)
        return replace(done, aside=aside, standing=standing)

    def unstage(self, path: str, text: str) -> None:
        """Take a text (a blob) out of git's index where it was staged by hand. Needs the lock."""
        if self.index.entries([path]).get(path) != text:
            return
        intent = read_intent(self._intent) or Intent(self.git.head(), "")
        intent.todo.behind.setdefault(path, []).append(text)
        write_intent(self._intent, intent)
        self.mend()

    def _due(self, intent: Intent) -> Todo:
        """What is to be done: of the save itself, if it was published, and of earlier ones."""
        head, known = self.git.head(), self.git.object(intent.commit)[0]
        published = known and head and self.git.is_ancestor(intent.commit, head)
        return intent.due(self.git.tree(intent.parent)) if published else intent.todo

    def _forget_drafts(self) -> None:
        """Take away what killed saves left in the private folder."""
        self.index.forget_drafts()
        forget_drafts(self.private, self._intent.name)

    def unfinished(self) -> bool:
        """Whether a save is going on now, or was left unfinished."""
        return os.path.lexists(self._intent)

    def to_do(self) -> Todo:
        """What is noted as not done."""
        intent = read_intent(self._intent)
        return Todo() if intent is None else self._due(intent)

    def _finish(self, todo: Todo, now: Files) -> Mended:
        """All steps after the branch moved; what could not be done now."""
        left, why = Todo(), ""
        for path, olds in todo.files.items():
            try:
                self._bring_file(path, olds, now.get(path))
            except (OSError, WitnessmarkError) as error:
                left.files[path], why = olds, why or f"{path}: {_why(error)}"
        brought = self._bring_index(todo.behind, now)
        left.behind = {path: todo.behind[path] for path in brought.left}
        left.closing = [each for each in todo.closing if not self._close(*each)]
        left.asides = [each for each in todo.asides if not self._put_aside(*each)]
        return Mended(staged=brought.staged, todo=left, why=why)

    def _bring_file(self, path: str, olds: Collection[str | None], new: str | None) -> None:
        """Write a work-tree file only where it still is as a save left it, or missing."""
        try:
            disk = read_file(self.folder, path)
        except NotRead:  # nobody knows what it holds: looked at again the next time
            raise
        except UsageError:  # a link, a pipe, a device: somebody's edit by hand, left as it is
            return
        forget_drafts(self.folder, path)
        data = self.git.blob(new) if new else None
        if disk == data:
            return
        if disk is None or any(disk == self.git.blob(old) for old in olds if old):
            if data is None:
                remove_file(self.folder, path)
            else:
                write_file(self.folder, path, data)

    def _bring_index(self, behind: Olds, now: Files) -> Brought:
        """Bring git's index up: else a commit by hand would take a colleague's save back.

        What fails is tried once more while the lock is ours: a git may have been ended.
        """
        for _ in range(2):
            try:
                return self.index.bring(behind, now)
            except (OSError, WitnessmarkError):  # git cannot read or write it; the save is safe
                continue
        return Brought(tuple(behind))

    def _close(self, commit: str, pencil: InkedPencil) -> bool:
        person, document, draft, marks = pencil
        return _done(lambda: Pencil(self.private, person, document).inked(draft, commit, marks))

    def _put_aside(self, commit: str, aside: AsidePencil) -> bool:
        person, document, marks = aside
        return _done(lambda: Pencil(self.private, person, document).set_aside(commit, marks))


def _done(work: Callable[[], None]) -> bool:
    """Whether it could be done; a journal that cannot be written now is left for later."""
    try:
        work()
    except (OSError, WitnessmarkError):
        return False
    return True


def _why(error: Exception) -> str:
    if isinstance(error, OSError):
        return error.strerror or str(error)
    return str(error)
