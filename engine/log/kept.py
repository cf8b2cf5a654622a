"""Answers that were worked out before, kept in a file of their own beside the index.

Invariant: disposable. A name says whose an answer is, and whoever asks holds what it
finds against what that leans on; so an old answer costs time and no truth. It lies in the
person's own cache as the index does, and outlives it: an index that is made anew makes
none of them wrong.
"""

from __future__ import annotations

import json
import logging
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Protocol, TypeVar

from engine.log import index_file

TABLE = """CREATE TABLE IF NOT EXISTS kept
    (name TEXT PRIMARY KEY, text TEXT NOT NULL, sum INTEGER NOT NULL) WITHOUT ROWID"""
_BEYOND = "\U0010ffff"
A = TypeVar("A")
_log = logging.getLogger(__name__)


def _plain(name: str) -> str:
    """A name in ASCII: one with a path in it may have signs that no text has."""
    return json.dumps(name)[1:-1]


def _as_it_was(plain: str) -> str:
    return str(json.loads(f'"{plain}"')) if "\\" in plain else plain


def place_of(book: Path) -> Path:
    """Where the answers of a book lie, whether there are any or not."""
    return index_file.place_of(book).with_suffix(".kept.sqlite")


class Answers(Protocol):
    """Where answers are kept. `works`: whether another process finds them, too."""

    @property
    def works(self) -> bool:
        """Whether something can be kept."""

    def recall(self, prefix: str) -> dict[str, str]:
        """What was kept under names that begin so."""

    def keep(self, found: Mapping[str, str], gone: Iterable[str] = ()) -> None:
        """Keep answers under their names, and forget others."""

    def close(self) -> None:
        """Let the file go."""


class AnswersInMemory:
    """Answers of one process, for one that is to leave no file."""

    works = False

    def __init__(self) -> None:
        self._kept: dict[str, str] = {}

    def recall(self, prefix: str) -> dict[str, str]:
        """What was kept under names that begin so."""
        return {name: text for name, text in self._kept.items() if name.startswith(prefix)}

    def keep(self, found: Mapping[str, str], gone: Iterable[str] = ()) -> None:
        """Keep answers under their names, and forget others."""
        for name in gone:
            self._kept.pop(name, None)
        self._kept |= found

    def close(self) -> None:
        """Nothing is held."""


class KeptAnswers:
    """Answers by name. Where the file cannot be had nothing is known, and nothing is kept."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._db: sqlite3.Connection | None = None

    @property
    def works(self) -> bool:
        """Whether something can be kept."""
        return self._with(lambda db: db.execute("SELECT 1").fetchone()) is not None

    def recall(self, prefix: str) -> dict[str, str]:
        """What was kept under names that begin so."""
        span = (_plain(prefix), _plain(prefix) + _BEYOND)
        rows = self._with(
            lambda db: index_file.read(db, "kept", "WHERE name >= ? AND name < ?", span)
        )
        return {_as_it_was(name): text for name, text in rows or ()}

    def keep(self, found: Mapping[str, str], gone: Iterable[str] = ()) -> None:
        """Keep answers under their names, and forget others."""
        rows = [(_plain(name), text) for name, text in found.items()]
        names = [(_plain(name),) for name in gone]

        def write(db: sqlite3.Connection) -> None:
            with index_file.changing(db):
                index_file.add(db, "kept", rows)
                db.executemany("DELETE FROM kept WHERE name = ?", names)

        if rows or names:
            self._with(write)

    def close(self) -> None:
        """Let the file go."""
        if self._db is not None:
            self._db.close()
            self._db = None

    def _with(self, do: Callable[[sqlite3.Connection], A]) -> A | None:
        try:
            if self._db is None:
                db = index_file.open_file(self._file)
                db.execute("PRAGMA synchronous=OFF")  # what a power cut takes is worked out again
                db.execute(TABLE)
                self._db = db
            return do(self._db)
        except (sqlite3.Error, UnicodeDecodeError, OSError) as error:
            _log.info("kept answers cannot be had: %s", error)
            self.close()
            if index_file.is_damage(error):
                index_file.throw_away(self._file)
            return None
