"""One hostile input, and the room into which it is laid."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.mini_book import plain_git

CANARY = "canary"  # whatever is carried out writes this file


@dataclass(frozen=True)
class Room:
    """A case's folder: `book` and what lies beside it."""

    box: Path

    @property
    def book(self) -> Path:
        """The book."""
        return self.box / "book"

    @property
    def git(self) -> Path:
        """The book's git folder."""
        return self.book / ".git"

    @property
    def private(self) -> Path:
        """The book's private folder."""
        return self.git / "witnessmark"

    @property
    def outside(self) -> Path:
        """What lies beside the book and must stay as it is."""
        return self.box / "outside"

    @property
    def canary(self) -> Path:
        """What exists only after something was carried out."""
        return self.outside / CANARY

    @property
    def program(self) -> Path:
        """An executable that writes the canary."""
        return self.outside / "program"

    @property
    def command(self) -> str:
        """The same as one line for a shell."""
        return f"sh -c 'echo ran >{self.canary}; cat'"

    def prepare(self) -> None:
        """Lay out what is beside the book, and a value in pencil in it."""
        self.outside.mkdir()
        (self.outside / "kept.txt").write_text("not of the book\n")
        (self.outside / "folder").mkdir()
        self.program.write_text(f'#!/bin/sh\necho "$0 $*" >>{self.canary}\nexit 0\n')
        self.program.chmod(0o755)
        os.utime(self.program, (0, 0))

    def write(self, path: str, data: bytes | str) -> None:
        """Write a file of the book, its folders too."""
        target = self.book / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data.encode() if isinstance(data, str) else data)

    def plain(self, *words: str, data: bytes | None = None) -> str:
        """Plain git in the book."""
        return plain_git(self.book, *words, data=data)


@dataclass(frozen=True)
class Input:
    """One input: `past` where the past stays sound, and every question about it has an answer."""

    room: str
    name: str
    make: Callable[[Room], object]
    past: bool = True
    syncs: bool = False
    environment: Mapping[str, str | None] = field(default_factory=dict)
