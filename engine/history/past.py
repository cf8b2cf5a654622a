"""The past of a book, as the desk asks for it: known by the index, or else from git itself.

The index costs time where it is damaged, locked, older, or nowhere: the answer
then comes from the plain walk. Which of the two answered makes no difference.
"""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from engine.history.git import Git
from engine.history.plain import PlainPast
from engine.history.saved import EMAIL_HOST, Row, Saved, Step, Wanted, Way
from engine.history.texts import Texts
from schemas.address import Value
from schemas.document import Document

__all__ = ["EMAIL_HOST", "Past", "Row", "Saved", "Step", "Wanted"]

A = TypeVar("A")
_log = logging.getLogger(__name__)


class Past:
    """All commits up to `head`, and the life of every document."""

    def __init__(self, git: Git, cache: Path | None = None) -> None:
        self.git = git
        self.texts = Texts(git)
        self.head = ""
        self.warnings: list[str] = []
        self._way: Way = PlainPast(git, self.texts)

    @property
    def rewritten(self) -> bool:
        """Whether the past was found to be another than the one that was known."""
        return bool(self._way.rewritten)

    def refresh(self, head: str) -> None:
        """Take in what is new up to a head."""
        self._way.refresh(head)
        self.head = head

    # texts

    def key(self, path: str, blob: str) -> str:
        """What a document is: a record's id, or the name of any other document."""
        return self.texts.key(path, blob)

    def document(self, path: str, blob: str) -> Document:
        """A document by its blob. ReadError where that text cannot be used."""
        return self.texts.document(path, blob)

    def values(self, path: str, blob: str) -> dict[str, Value] | None:
        """Every value of a document by address; None where it is no TOML at all."""
        return self.texts.values(path, blob)

    def place_at(self, commit: str, key: str, near: str = "") -> tuple[str, str]:
        """(path, blob) of a document in a commit; ("", "") where it was not in it.

        Looked for first at the paths where it ever stood (and at `near`); a record that
        stands twice is the one at its first path.
        """
        files = self.git.tree(commit)
        paths = {step.path for step in self.life(key)} | ({near} if near else set())
        found = sorted(
            (path, files[path])
            for path in paths
            if path in files and self.key(path, files[path]) == key
        )
        return found[0] if found else ("", "")

    # history

    def life(self, key: str) -> list[Step]:
        """Every change of a document, oldest first."""
        return self._ask(lambda way: way.life(key))

    def last_steps(self) -> dict[str, tuple[int, Step]]:
        """The last step of each record that left a text, and how many there were."""
        return self._ask(lambda way: way.last_steps())

    def knows(self, key: str) -> bool:
        """Whether there ever was such a document."""
        return self._ask(lambda way: way.knows(key))

    def saved(self, commit: str) -> Saved | None:
        """A commit of the past of the head, or None."""
        return self._ask(lambda way: way.saved(commit))

    def order_of(self, commit: str) -> int:
        """Where a commit stands in history, from 0; -1 where it does not."""
        return self._ask(lambda way: way.order_of(commit))

    def count(self) -> int:
        """How many commits there are."""
        return self._ask(lambda way: way.count())

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits whose id begins so."""
        return self._ask(lambda way: way.commits_beginning(prefix))

    def head_at(self, moment: datetime) -> str:
        """What the head was at a moment, going back along first parents."""
        return self._ask(lambda way: way.head_at(moment))

    def rows(self, key: str, covers: Callable[[str], bool]) -> list[Row]:
        """Every change of the covered values of a document, oldest first."""
        return self._ask(lambda way: way.rows(key, covers))

    def rows_of_all(self, wanted: Wanted) -> Iterator[Row]:
        """Changes of values in the whole book, newest first."""
        return self._way.rows_of_all(wanted)

    def after(self, base: str) -> set[str]:
        """Commits that are in the past of the head but not in that of `base`."""
        if base == self.head:
            return set()
        if self.order_of(base) < 0:
            span: Iterable[str] = (self.head,)
        else:
            span = (self.head, f"^{base}")
        return set(self.git.run("rev-list", *span, "--").decode().split())

    def _ask(self, question: Callable[[Way], A]) -> A:
        return question(self._way)

    def close(self) -> None:
        """Let files go."""
        self._way.close()
