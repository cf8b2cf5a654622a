"""Whether the note of a save on its way is one: every part of the right type and form.

A note that was put there by something else leads no step of mending: neither to a path
outside the book, nor to an object that is none, nor into somebody's pencil.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from engine.drafts.marks import is_sound_mark
from engine.repo.work_tree import check_path
from schemas.errors import UsageError

_ID = re.compile(r"([0-9a-f]{40}|[0-9a-f]{64})?")
_PERSON = re.compile(r"[A-Za-z0-9_-]{1,64}")
_DOCUMENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_DRAFT = re.compile(r"[A-Za-z0-9_-]{0,80}")


def stop_if_unsound(note: Any) -> None:
    """ValueError, TypeError or KeyError where something is no note of a save."""
    if not isinstance(note, dict):
        raise TypeError("a note is a table")
    _saves(note["commit"], note["parent"])
    _paths(_list(note["paths"]))
    for name in ("behind", "files"):
        olds = note.get(name, {}) if name == "files" else note[name]
        _paths(_table(olds))
        for blobs in olds.values():
            _ids(*(blobs if isinstance(blobs, list) else [blobs]))
    if note["pencil"]:
        _pencil(note["pencil"])
    for each in _list(note.get("aside", [])):
        _aside(each)
    for name, check in (("closing", _pencil), ("asides", _aside)):
        for commit, each in _list(note.get(name, [])):
            _saves(commit)
            check(each)


def _table(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("no table")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise TypeError("no list")
    return value


def _saves(*names: Any) -> None:
    if not all(isinstance(name, str) for name in names):
        raise TypeError("no id of a save")
    _ids(*names)


def _ids(*names: Any) -> None:
    """Ids of objects; None for a file that is not there."""
    for name in names:
        if name is not None and not _ID.fullmatch(name):
            raise ValueError("no id of an object")


def _paths(paths: Any) -> None:
    for path in paths:
        if not isinstance(path, str):
            raise TypeError("no path")
        try:
            check_path(path)
        except UsageError as error:
            raise ValueError(str(error)) from None


def _pencil(each: Any) -> None:
    person, document, draft, marks = _list(each)
    if not _DRAFT.fullmatch(draft):
        raise ValueError("no draft")
    _aside([person, document, marks])


def _aside(each: Any) -> None:
    person, document, marks = _list(each)
    named = _PERSON.fullmatch(person) and _DOCUMENT.fullmatch(document)
    if not named or not all(is_sound_mark(mark) for mark in _list(marks)):
        raise ValueError("no pencil")
