"""What was worked out of each document, part by part, kept with all that it leans on.

Invariant: a part that is handed out leans on nothing that changed since it was worked
out, by this very program; else it is not known. Parts are plain values as JSON has them.
They are written some at a time, the last by `flush`; who is cut short before it works out the
same again.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, TypeVar

from engine.log.past import Past

YOUNG = "young"  # the state of what cannot be told yet: never that of anything
_PREFIX = "parts "
_PACKAGES = ("engine", "schemas")
_UNWRITTEN = 200  # documents whose parts are kept in memory only
T = TypeVar("T")
Leaning = dict[str, str]  # sources and the states that they had
Part = tuple[Leaning, Any]  # what it leans on, and what it says


def made_by() -> str:
    """This program, and the clock's zone: what it says may change with either."""
    found = hashlib.sha256(f"{sys.version} {time.tzname} {time.timezone} {time.altzone}".encode())
    found.update(os.environ.get("TZ", "").encode("utf-8", "surrogateescape"))
    for package in _PACKAGES:
        for file in _sources(f"{Path(__file__).parents[2]}/{package}"):
            status = file.stat()
            found.update(f"{file.path} {status.st_size} {status.st_mtime_ns}".encode())
    return found.hexdigest()[:16]


def _sources(folder: str) -> Iterator[os.DirEntry[str]]:
    for entry in sorted(os.scandir(folder), key=lambda each: each.name):
        if entry.is_dir(follow_symlinks=False):
            yield from _sources(entry.path)
        elif entry.name.endswith(".py"):
            yield entry


class KeptParts:
    """Parts of all documents of one book, by the name of each document."""

    def __init__(self, past: Past) -> None:
        self._past = past
        self._rows: dict[str, dict[str, Part]] | None = None
        self._stored: set[str] = set()
        self._changed: set[str] = set()
        self._made = ""
        self._of_book: dict[str, tuple[str, Any]] = {}

    def get(self, name: str, part: str, holds: Callable[[Leaning], bool]) -> Part | None:
        """A part that still holds; None where it has to be worked out."""
        found = self._all().get(name, {}).get(part)
        return found if found is not None and holds(found[0]) else None

    def says(self, name: str, part: str) -> Any:
        """What a part says that is known to hold."""
        return self._all()[name][part][1]

    def put(self, name: str, part: str, leans: Leaning, says: object) -> None:
        """Keep a part; one that leans on what has no state yet is known to be out of date."""
        if YOUNG in leans.values():
            return
        self._all().setdefault(name, {})[part] = (leans, says)
        self._changed.add(name)
        if len(self._changed) >= _UNWRITTEN:
            self.flush()

    def at_head(self, what: str, head: str, work: Callable[[], T]) -> T:
        """Something of the whole book that follows from its head: in memory until that moves."""
        known = self._of_book.get(what)
        if known is None or known[0] != head:
            known = self._of_book[what] = (head, work())
        found: T = known[1]
        return found

    def flush(self, names: Iterable[str] = ()) -> None:
        """Write what is new. With `names`: those are all there are, others are forgotten."""
        rows, there = self._all(), set(names)
        gone = (rows.keys() | self._stored) - there if there else set()
        for name in gone:
            rows.pop(name, None)
        fresh = {
            f"{_PREFIX}{name}": json.dumps([self._made, *_packed(rows[name])])
            for name in self._changed - gone
        }
        self._past.keep(fresh, [f"{_PREFIX}{name}" for name in gone & self._stored])
        self._stored = (self._stored | self._changed) - gone
        self._changed = set()

    def read_again(self) -> None:
        """Other processes may have written: what is not known here is looked up once more."""
        self.flush()
        self._rows = None

    def _all(self) -> dict[str, dict[str, Part]]:
        if self._rows is None:
            self._made = made_by()
            self._rows = {}
            for name, text in self._past.recall(_PREFIX).items():
                self._stored.add(name.removeprefix(_PREFIX))
                made, *packed = json.loads(text)
                if made == self._made:
                    self._rows[name.removeprefix(_PREFIX)] = _unpacked(*packed)
        return self._rows


def _packed(row: dict[str, Part]) -> tuple[list[list[str]], dict[str, list[Any]]]:
    """Each source with its state once, and the parts with the numbers of theirs."""
    pairs = list(dict.fromkeys(pair for leans, _ in row.values() for pair in leans.items()))
    numbers = {pair: n for n, pair in enumerate(pairs)}
    parts = {
        p: [[numbers[pair] for pair in leans.items()], says] for p, (leans, says) in row.items()
    }
    return [list(pair) for pair in pairs], parts


def _unpacked(pairs: list[list[str]], parts: dict[str, list[Any]]) -> dict[str, Part]:
    return {part: (dict(map(pairs.__getitem__, of)), says) for part, (of, says) in parts.items()}
