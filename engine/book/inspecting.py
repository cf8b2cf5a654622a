"""Whether every object of a book's history is there and is what its name says.

The book is not opened: one whose head is damaged can be looked at, too. Nothing is
written. Each finding says which document and which save it concerns, and what to do.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from engine.repo.git import Git
from engine.repo.inspection import Fault, Inspection
from engine.repo.safety import check_repository
from engine.views import Finding
from engine.views.wording import day
from schemas.document import kind_of, name_of

MISSING, DAMAGED = "object-missing", "object-damaged"
_FETCH = (
    "Another copy of the book, or a backup, has it: `cp -rn COPY/.git/objects/. .git/objects/` in "
    "the book's folder, then look again."
)
_AWAY = f"Move this file away, keep it, and save nothing meanwhile. {_FETCH}"


def check_objects(folder: Path, tell: Callable[[int], None]) -> list[Finding]:
    """What is wrong with the objects of a book, oldest save first. BookError where it is none."""
    folder = folder.resolve()
    check_repository(folder)
    git = Git(folder)
    try:
        return [_finding(fault) for fault in Inspection(git, tell).faults()]
    finally:
        git.close()


def _finding(fault: Fault) -> Finding:
    missing = fault.what.startswith("is missing")
    rule = MISSING if missing else DAMAGED
    message = f"object {fault.oid[:12]} {fault.what}; {_concerns(fault)}"
    name, hint = _name(fault), _FETCH if missing else _AWAY
    if fault.commit is None and not missing:
        hint = f"{hint} Where nothing has it and all else is in order, no save needs it."
    return Finding(rule, "error", name, "", message, hint, fault.file)


def _name(fault: Fault) -> str:
    return name_of(fault.path) if kind_of(fault.path) else "book"


def _concerns(fault: Fault) -> str:
    """Which file and which save, in words."""
    if fault.commit is None:
        return "nothing that was read leads to it"
    commit = fault.commit
    save = f"save {commit.id[:10]} ({commit.author[0]}, {day(commit.when)})"
    if fault.oid in commit.parents:
        return f"it is the save before {save}: what lies behind it cannot be looked at"
    return f"it is {fault.path or 'the list of files'} as of {save}, and later until it changed"
