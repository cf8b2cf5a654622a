"""The part program of a record: what its text says, and what changed since it was proved out.

The text is read as the record's cell cuts (milling or turning, its feed codes, its
ends), once for all that is asked of it. What was read is kept by the hash of the bytes,
so it can never be stale.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from hashlib import sha256

from engine.book.session import Held
from engine.cache import LruCache
from engine.programs import ProgramChange, ProgramFacts, canonical_code, compare_read
from engine.programs import read_program as read_text
from engine.programs.dialect import MILLING, TURNING, Dialect
from engine.repo.stream import blobs_at
from engine.repo.work_tree import read_file
from schemas.cell import Cell
from schemas.errors import UsageError
from schemas.record import Record

_KEPT = 256
_read: LruCache[ProgramFacts] = LruCache(_KEPT)
_compared: LruCache[list[ProgramChange]] = LruCache(_KEPT)


class RecordProgram:
    """The part program of one record."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def facts(self) -> ProgramFacts:
        """What the part program says, as it lies on disk; UsageError without one."""
        document = self._held.read()
        model = document.model
        if not isinstance(model, Record):
            raise UsageError(f"{self._held.name} is no record and has no part program")
        path = model.program.file
        if path is None:
            raise UsageError(
                f"{self._held.name} names no part program",
                hint=f"`witnessmark set {self._held.name} program.file=PATH` links it.",
            )
        data = read_file(self._session.folder, path)
        if data is None:
            raise UsageError(f"{path} is not there", hint="Put it there, or correct program.file.")
        return facts_of(data, self._session.cell_of(document))

    def changes(self) -> list[ProgramChange] | None:
        """What changed since it was proved out; None where history has not that text."""
        document = self._held.read()
        model = document.model
        if not isinstance(model, Record) or model.program.file is None:
            return None
        now = read_file(self._session.folder, model.program.file)
        if now is None:
            return None
        cell = self._session.cell_of(document)
        key = (model.program.sha256, sha256(now).hexdigest(), dialect_of(cell), end_codes(cell))

        def compared() -> list[ProgramChange]:
            proved = self.proved_text(model)
            if proved is None:
                raise _NotInHistory  # not remembered: a later save may bring the text
            return compare_read(proved, facts_of(proved, cell), now, facts_of(now, cell))

        try:
            return list(_compared.get(key, compared))
        except _NotInHistory:
            return None

    def proved_text(self, record: Record) -> bytes | None:
        """The program whose hash the record has as proved out, wherever in history it stands."""
        wanted = record.program.sha256
        for blob in self._blobs() if wanted else ():
            data = self._session.git.blob(blob)
            if sha256(data).hexdigest() == wanted:
                return data
        return None

    def _blobs(self) -> Iterator[str]:
        """Every text that ever stood where the record's program stood, newest first, each once."""
        past, git, entries = self._session.past, self._session.git, self._session.entries
        lives = reversed(past.life(self._held.key))
        values = [past.values(step.path, step.new) or {} for step in lives if step.new]
        paths = dict.fromkeys(str(v["program.file"]) for v in values if "program.file" in v)
        seen: set[str] = set()
        for path in paths:
            if path in entries and entries[path] not in seen:
                seen.add(entries[path])
                yield entries[path]
            for blob in blobs_at(git, self._session.head, path):
                if blob not in seen:
                    seen.add(blob)
                    yield blob


def facts_of(data: bytes, cell: Cell | None) -> ProgramFacts:
    """A text read as a cell reads it; as a mill does where the cell is not known."""
    ends, codes = end_codes(cell), _codes(cell.cell.codes if cell else None)
    dialect = dialect_of(cell)
    key = (sha256(data).hexdigest(), dialect, ends, codes)
    return _read.get(
        key, lambda: read_text(data, end_codes=ends, loader_codes=codes, dialect=dialect)
    )


def dialect_of(cell: Cell | None) -> Dialect:
    """How a cell's control reads a program.

    Turning with G94 and G95 for the feed: there G90 and G92 are no cycles, U and W no
    increments, and G81 to G89 drill (common practice, no source).
    """
    if cell is None:
        return MILLING
    base = TURNING if cell.cell.cuts == "turning" else MILLING
    feeds = _codes(cell.cell.feed_codes)
    if len(feeds) != 2:
        return base
    minute, turn = feeds
    named = replace(base, per_minute=frozenset({minute}), per_revolution=frozenset({turn}))
    if base is MILLING or minute != "G94":
        return named
    cycles = base.turning_cycles - {"G90", "G92", "G94"}
    return replace(named, increments=(), turning_cycles=cycles, drilling_cycles=True)


def end_codes(cell: Cell | None) -> tuple[str, ...]:
    """Codes that end a program on a cell, tended or attended, in one spelling."""
    if cell is None:
        return ()
    return _codes([*(cell.cell.ends_tended or []), *(cell.cell.ends_attended or [])])


def _codes(typed: list[str] | None) -> tuple[str, ...]:
    """Codes in one spelling; what is none is left out (a finding about the cell tells)."""
    found = []
    for text in typed or []:
        try:
            found.append(canonical_code(text))
        except ValueError:
            continue
    return tuple(found)


# since it was proved out


class _NotInHistory(Exception):
    """The text that was proved out stands in no commit that can be seen."""
