"""Formats newer than this program: looked for before each commit, so that none is written over.

A newer program may have said things that this one cannot keep, so the whole book is
then read only, as far as it can be read. What was looked through is remembered by its
commit and by the formats that were known: afterwards only files that differ are read.
The memory can be thrown away; it is never believed by a program that knows others.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from engine.repo.git import Git
from engine.repo.private import read_note, read_private, write_private
from schemas.document import FORMATS, kind_of
from schemas.errors import Refused
from schemas.rewriting import format_of

_MANY = 50  # files: so many are not read a second time


@dataclass(frozen=True, slots=True)
class Newer:
    """A file of a format that this program does not know."""

    path: str
    number: int
    known: int

    def refusal(self, where: str = "") -> Refused:
        """Why nothing is written, and what to do."""
        return Refused(
            f"a newer program wrote {self.path}: it has format {self.number}, and this program "
            f"knows up to {self.known}",
            where=where,
            hint="Nothing was written. Bring this program up to date; until then it shows what "
            "it can read. Your pencil is kept.",
        )


class Formats:
    """Looks through the commits of one repository."""

    def __init__(self, git: Git, memory: Path) -> None:
        self._git = git
        self._memory = memory
        self._fine = ""  # the last commit in which nothing newer was found

    def newer(self, commit: str) -> Newer | None:
        """A file of a commit that a newer program wrote, or None."""
        if not commit or commit == self._fine:
            return None
        self._fine = self._fine or self._recalled()
        before = self._git.tree_if_any(self._fine)
        count = 0
        for path, blob in self._git.tree(commit).differing(before):
            kind = kind_of(path)
            if kind is None:
                continue
            count += 1
            number = format_of(self._git.blob(blob))
            if number > FORMATS[kind]:
                return Newer(path, number, FORMATS[kind])
        self._fine = commit
        if count >= _MANY:
            self._remember(commit)
        return None

    def stop_if_newer(self, *commits: str) -> None:
        """Refused where a newer program wrote a file of one of these commits."""
        for commit in commits:
            found = self.newer(commit)
            if found is not None:
                raise found.refusal()

    def _recalled(self) -> str:
        try:
            kept = read_note(read_private(self._memory.parent, self._memory.name) or b"{}")
            same = kept["formats"] == FORMATS and isinstance(kept["commit"], str)
        except (OSError, ValueError, TypeError, KeyError):
            return ""
        return str(kept["commit"]) if same else ""

    def _remember(self, commit: str) -> None:
        with suppress(OSError):
            note = json.dumps({"commit": commit, "formats": FORMATS}).encode()
            write_private(self._memory.parent, self._memory.name, note)
