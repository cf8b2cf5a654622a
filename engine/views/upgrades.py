"""What an upgrade of a book's files brings to the present format, and what it leaves."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class UpgradedFile:
    """A file that an upgrade brings to the present format; `names` are (old, present) addresses."""

    document: str
    path: str
    old: int
    new: int
    names: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LeftAlone:
    """A file of an older format that an upgrade leaves as it is, and why."""

    document: str
    path: str
    why: str


@dataclass(frozen=True, slots=True)
class Upgraded:
    """What an upgrade changes, or changed: then `commit` is its commit."""

    files: tuple[UpgradedFile, ...]
    left: tuple[LeftAlone, ...]
    commit: str = ""
