"""The index as a file: where it lies, whom it belongs to, and when it is not to be trusted.

It lies in the person's own cache, in a folder that nobody else can write, and
never in the book, so no book can bring a forged one along. It is disposable: what
cannot be trusted (a strange owner, an older version, a damaged page, a sum that
does not agree) is thrown away and made again. Every change of it is one
transaction.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import stat
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import platformdirs

VERSION = "1"
PATIENCE = 20.0  # seconds for another process of the same person to finish its update
_TABLES = """
CREATE TABLE meta (
    name TEXT PRIMARY KEY, value TEXT NOT NULL, sum INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE words (w INTEGER PRIMARY KEY, text NOT NULL UNIQUE, sum INTEGER NOT NULL);
CREATE TABLE saves (
    n INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, parents BLOB NOT NULL, who INTEGER NOT NULL,
    at INTEGER NOT NULL, zone INTEGER NOT NULL, subject TEXT NOT NULL, reason TEXT NOT NULL,
    kind TEXT NOT NULL, draft TEXT NOT NULL, whole INTEGER NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE steps (
    s INTEGER PRIMARY KEY, n INTEGER NOT NULL, key INTEGER NOT NULL, path INTEGER NOT NULL,
    olds BLOB NOT NULL, new BLOB NOT NULL, changes BLOB NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE documents (
    key INTEGER PRIMARY KEY, steps INTEGER NOT NULL, texts INTEGER NOT NULL,
    last INTEGER NOT NULL, sum INTEGER NOT NULL);
CREATE TABLE kept (name TEXT PRIMARY KEY, text TEXT NOT NULL, sum INTEGER NOT NULL) WITHOUT ROWID;
"""
INDEXES = (
    "CREATE INDEX IF NOT EXISTS steps_of_key ON steps (key)",
    "CREATE INDEX IF NOT EXISTS steps_of_save ON steps (n)",
)


class Damaged(sqlite3.DatabaseError):
    """What stands in the index does not agree with itself."""


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
    db = _connect(file)
    try:
        db.execute("SELECT count(*) FROM sqlite_master").fetchone()
        return db
    except sqlite3.OperationalError:  # locked, read-only, no room: not damaged
        db.close()
        raise
    except sqlite3.DatabaseError:
        db.close()
        throw_away(file)
        return _connect(file)


def _connect(file: Path) -> sqlite3.Connection:
    db = sqlite3.connect(file, timeout=PATIENCE, isolation_level=None, check_same_thread=False)
    db.execute("PRAGMA trusted_schema=OFF")
    db.execute("PRAGMA cell_size_check=ON")
    db.execute("PRAGMA synchronous=NORMAL")
    db.execute("PRAGMA cache_size=-16000")
    with suppress(OSError):
        file.chmod(0o600)
    return db


def said(db: sqlite3.Connection) -> dict[str, str]:
    """What the index says of itself; nothing where it is empty or of another version."""
    if not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'meta'").fetchone():
        return {}
    try:
        rows = db.execute("SELECT name, value, sum FROM meta").fetchall()
    except sqlite3.OperationalError:  # other columns: not ours
        return {}
    known = {name: value for name, value, check in rows if sum_of((name, value)) == check}
    return known if known.get("version") == VERSION and "head" in known else {}


def say(db: sqlite3.Connection, name: str, value: str) -> None:
    """Write down what the index says of itself."""
    row = (name, value, sum_of((name, value)))
    db.execute("INSERT OR REPLACE INTO meta VALUES (?, ?, ?)", row)


def sum_of(row: tuple[object, ...]) -> int:
    """A check sum over one row: what a flipped bit changes is noticed."""
    return zlib.crc32(repr(row).encode("utf-8", "surrogatepass"))


@contextmanager
def changing(db: sqlite3.Connection) -> Iterator[None]:
    """One change of the index, whole or not at all; others of this account wait for it."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
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
    say(db, "version", VERSION)


def finish(db: sqlite3.Connection) -> None:
    """The ways into the tables, made once all rows are there; inside `changing`."""
    for statement in INDEXES:
        db.execute(statement)


def throw_away(file: Path) -> None:
    """Take an index that is not to be trusted out of the way."""
    for left in ("-journal", "-wal", "-shm", ""):
        with suppress(OSError):
            file.with_name(file.name + left).unlink(missing_ok=True)
