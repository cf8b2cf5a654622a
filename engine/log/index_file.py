"""The index as a file: where it lies, whom it belongs to, and when it is not to be trusted.

It lies in the person's own cache, in a folder that nobody else can write, and
never in the book, so no book can bring a forged one along. It is disposable: what
cannot be trusted (a strange owner, an older version, a damaged page, a sum that
does not agree) is thrown away and made again. Every change of it is one
transaction.
"""

from __future__ import annotations

import hashlib
import json
import marshal
import os
import sqlite3
import stat
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import platformdirs

VERSION = 7
_BY_VALUE = 0  # the version of marshal that knows no shared objects: equal rows, equal bytes
_SQL_ERROR = 1  # as SQLite numbers it
PATIENCE = 20.0  # seconds for another process of the same person to finish its update
_TABLES = """
CREATE TABLE extent (one INTEGER PRIMARY KEY, said TEXT NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE words (w INTEGER PRIMARY KEY, text NOT NULL UNIQUE, sum INTEGER NOT NULL);
CREATE TABLE saves (
    n INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, parents BLOB NOT NULL, who INTEGER NOT NULL,
    at INTEGER NOT NULL, zone INTEGER NOT NULL, subject TEXT NOT NULL, reason TEXT NOT NULL,
    kind TEXT NOT NULL, draft TEXT NOT NULL, marks INTEGER NOT NULL, stamp INTEGER NOT NULL,
    sum INTEGER NOT NULL);
CREATE TABLE outlines (first INTEGER PRIMARY KEY, packed BLOB NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE steps (
    s INTEGER PRIMARY KEY, n INTEGER NOT NULL, key INTEGER NOT NULL, path INTEGER NOT NULL,
    olds BLOB NOT NULL, new BLOB NOT NULL, changes BLOB NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE documents (
    key INTEGER PRIMARY KEY, steps INTEGER NOT NULL, texts INTEGER NOT NULL,
    last INTEGER NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE homes (
    path INTEGER NOT NULL, key INTEGER NOT NULL, sum INTEGER NOT NULL, PRIMARY KEY (path, key))
    WITHOUT ROWID;
CREATE TABLE kept (name TEXT PRIMARY KEY, text TEXT NOT NULL, sum INTEGER NOT NULL) WITHOUT ROWID;
"""
INDEXES = (
    "CREATE INDEX IF NOT EXISTS steps_of_key ON steps (key)",
    "CREATE INDEX IF NOT EXISTS steps_of_save ON steps (n)",
)


class Damaged(sqlite3.DatabaseError):
    """What stands in the index does not agree with itself."""


def is_damage(error: Exception) -> bool:
    """Whether an error says that the file is damaged: not that it cannot be had now, nor that
    this program is at fault."""
    if isinstance(error, sqlite3.OperationalError):  # a table or its text is not what was written
        return getattr(error, "sqlite_errorcode", _SQL_ERROR) == _SQL_ERROR
    if isinstance(error, UnicodeDecodeError):  # a broken name, in SQLite's own complaint about it
        return True
    fault = isinstance(error, sqlite3.ProgrammingError)
    return isinstance(error, sqlite3.DatabaseError) and not fault


def place_of(book: Path) -> Path:
    """Where the index of a book lies, whether there is one or not."""
    name = hashlib.sha256(os.fsencode(book.resolve())).hexdigest()[:24]
    return platformdirs.user_cache_path("witnessmark") / "history" / f"{name}.sqlite"


def own_folder(file: Path) -> None:
    """Make the index's folder, for its owner alone. OSError where that cannot be had."""
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    status = file.parent.lstat()
    if not stat.S_ISDIR(status.st_mode) or status.st_uid != os.getuid():
        raise PermissionError(f"{file.parent} is not a folder of this account's own")
    if status.st_mode & 0o077:
        file.parent.chmod(0o700)


def open_file(file: Path) -> sqlite3.Connection:
    """The index as it lies there, or an empty one. sqlite3.Error, OSError where it cannot be had.

    What is no database of ours, or of an older version, is thrown away.
    """
    own_folder(file)
    try:
        status = file.lstat()
        if not stat.S_ISREG(status.st_mode) or status.st_uid != os.getuid():
            raise PermissionError(f"{file} is not a file of this account's own")
    except FileNotFoundError:
        pass
    try:
        return _connect(file)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if not is_damage(error):  # locked, read-only, no room
            raise
        throw_away(file)
        return _connect(file)


def _connect(file: Path) -> sqlite3.Connection:
    db = sqlite3.connect(file, timeout=PATIENCE, isolation_level=None, check_same_thread=False)
    db.execute("PRAGMA trusted_schema=OFF")
    db.execute("PRAGMA cell_size_check=ON")
    db.execute("PRAGMA synchronous=NORMAL")
    db.execute("PRAGMA cache_size=-16000")
    db.execute("SELECT count(*) FROM sqlite_master").fetchone()  # reads what it says of itself
    with suppress(OSError):
        file.chmod(0o600)
    return db


@dataclass(frozen=True, slots=True)
class Extent:
    """What the index says of itself, in one row: what is missing elsewhere is noticed by it."""

    head: str = ""  # of the history that it knows; empty where it knows none
    born: str = ""  # another one each time it is made anew: numbers hold as long as it does
    commits: int = 0
    steps: int = 0
    words: int = 0
    records: int = 0  # documents whose key is that of a record
    homes: int = 0  # pairs of a path and a record that ever lay there
    twice: tuple[str, ...] = ()  # records that stood at two paths at once
    jumped: int = 0  # commits that are stamped earlier than one that they stand on
    jumps: tuple[int, ...] = ()  # the last ones of them, by number
    behind: int = 0  # commits that are stamped earlier than anything in their past
    book: str = ""  # what book it is of; another one may come to lie at the same place


def said(db: sqlite3.Connection) -> Extent:
    """What the index says of itself; nothing where it is empty or of another version."""
    if db.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        return Extent()
    rows = read(db, "extent")
    if not rows:
        return Extent()
    told: dict[str, Any] = json.loads(rows[0][1])
    return Extent(**(told | {name: tuple(told[name]) for name in ("twice", "jumps")}))


def say(db: sqlite3.Connection, extent: Extent) -> None:
    """Write down what the index says of itself."""
    add(db, "extent", [(0, json.dumps(asdict(extent)))])


# rows: each ends with a check sum, which is written and looked at here and nowhere else


def read(
    db: sqlite3.Connection, table: str, rest: str = "", given: Sequence[object] = ()
) -> list[tuple[Any, ...]]:
    """Rows of a table, without their sums. Damaged where one does not agree with its own."""
    start, found = _start_of(table), []
    for summed in db.execute(f"SELECT * FROM {table} {rest}", given):
        row = summed[:-1]
        if _sum_of(row, start) != summed[-1]:
            raise Damaged(f"a row of {table} does not agree with its sum")
        found.append(row)
    return found


def add(db: sqlite3.Connection, table: str, rows: Sequence[tuple[object, ...]]) -> None:
    """Write rows, in place of those with the same key."""
    if rows:
        marks = ", ".join("?" * (len(rows[0]) + 1))
        start = _start_of(table)
        summed = ((*row, _sum_of(row, start)) for row in rows)
        db.executemany(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", summed)


@cache
def _start_of(table: str) -> int:
    """Where the sums of a table begin: a row of another table is none of its."""
    return zlib.crc32(table.encode())


def _sum_of(row: tuple[Any, ...], start: int) -> int:
    """A check sum over one row: what a flipped bit changes is noticed."""
    return zlib.crc32(marshal.dumps(row, _BY_VALUE), start)


@contextmanager
def changing(db: sqlite3.Connection) -> Iterator[None]:
    """One change of the index, whole or not at all; others of this account wait for it."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:  # half a change is none, whatever broke it off
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise


def empty(db: sqlite3.Connection) -> None:
    """Throw all rows away and begin anew; inside `changing`."""
    kinds = db.execute("SELECT type, name FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
    for kind, name in kinds.fetchall():
        if kind == "table":
            db.execute(f'DROP TABLE "{name}"')
    for statement in _TABLES.split(";"):
        db.execute(statement)
    db.execute(f"PRAGMA user_version = {VERSION}")


def finish(db: sqlite3.Connection) -> None:
    """The ways into the tables, made once all rows are there; inside `changing`."""
    for statement in INDEXES:
        db.execute(statement)


def throw_away(file: Path) -> None:
    """Take an index that is not to be trusted out of the way."""
    for left in ("-journal", "-wal", "-shm", ""):
        with suppress(OSError):
            file.with_name(file.name + left).unlink(missing_ok=True)
