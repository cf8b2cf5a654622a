"""A pencil mark, and how it stands in a journal.

A mark remembers the inked value it was set against and the commit of that moment:
that is how a later ink by somebody else is noticed. `unpack` gives what was packed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from engine.repo.journal import JournalLine
from schemas.address import Value, show
from schemas.number import canonical
from schemas.toml import read_value, spell_value

_ADDRESS = re.compile(r"[A-Za-z0-9_-]{1,64}(\.[A-Za-z0-9_-]{1,64}){0,7}")
_DRAFT = re.compile(r"[A-Za-z0-9_-]{0,80}")
_ID = re.compile(r"([0-9a-f]{40}|[0-9a-f]{64})?")
_LONGEST_NOTE = 500
_WITH_MARKS = ("set", "rub-out", "bring-back", "keep", "inked")


@dataclass(frozen=True, slots=True)
class PencilMark:
    """One value in pencil. None stands for no value, in pencil or in ink."""

    address: str
    value: Value | None
    inked: Value | None  # what was inked when the mark was made
    base: str  # the commit of that moment
    at: datetime
    note: str = ""


def _text_of(value: Value | None) -> str | None:
    try:
        return None if value is None else spell_value(value)
    except ValueError:  # an odd number that a hand edit brought into ink: as it is shown
        return spell_value(show(value))


def _value_of(text: Any) -> Value | None:
    return None if text is None else read_value(str(text))


def pack(mark: PencilMark) -> JournalLine:
    """A mark as it stands in a journal."""
    entry = {
        "address": mark.address,
        "value": _text_of(mark.value),
        "inked": _text_of(mark.inked),
        "base": mark.base,
        "at": mark.at.isoformat(),
    }
    return entry | ({"note": _short(mark.note)} if mark.note else {})


def _short(note: str) -> str:
    """A note as long as one may be: some repeat the reason of a save, whoever made that."""
    return note if len(note) <= _LONGEST_NOTE else note[: _LONGEST_NOTE - 1] + "…"


def unpack(entry: Mapping[str, Any]) -> PencilMark:
    """The mark that `pack` packed."""
    return PencilMark(
        entry["address"],
        _value_of(entry["value"]),
        _value_of(entry["inked"]),
        entry["base"],
        datetime.fromisoformat(entry["at"]),
        entry.get("note", ""),
    )


def is_sound(entry: JournalLine) -> bool:
    """Whether an entry can be replayed; a damaged one is passed over.

    Of the right types and forms throughout: whatever else stands in a journal was not
    written by this program, and nothing of it reaches git, a screen or a message.
    """
    marks, what, draft = entry.get("marks", []), entry.get("do"), entry.get("draft", "")
    return (
        isinstance(marks, list)
        and all(is_sound_mark(packed) for packed in marks)
        and isinstance(draft, str)
        and _DRAFT.fullmatch(draft) is not None
        and (what in _WITH_MARKS if marks else what in ("undo", "redo", "inked"))
        and _is_id(entry.get("commit", ""))
        and _is_id(entry.get("aside", ""))
    )


def is_sound_mark(packed: Any) -> bool:
    """Whether something is a mark as `pack` packs it."""
    try:
        return (
            _ADDRESS.fullmatch(packed["address"]) is not None
            and _is_id(packed["base"])
            and datetime.fromisoformat(packed["at"]).tzinfo is not None
            and _readable(packed["value"])
            and _readable(packed["inked"], odd=True)
            and isinstance(packed.get("note", ""), str)
            and len(packed.get("note", "")) <= _LONGEST_NOTE
        )
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        return False


def _is_id(name: Any) -> bool:
    """Whether something is the whole id of a commit, or empty: git is asked for nothing else."""
    return isinstance(name, str) and _ID.fullmatch(name) is not None


@lru_cache(maxsize=4096)
def _readable(text: str | None, *, odd: bool = False) -> bool:
    """Whether a text is a value; an `odd` one stood in ink, and may be what none should be."""
    if text is None:
        return True
    try:
        return isinstance(text, str) and (_is_value(read_value(text)) or odd)
    except (ValueError, RecursionError):
        return False


def _is_value(value: Any) -> bool:
    """Whether a value can stand in a document at all: no table, no time of day, no infinity."""
    if isinstance(value, list):
        return all(_is_value(item) for item in value)
    if isinstance(value, bool | str | date):
        return True
    if isinstance(value, int | Decimal):
        canonical(value)  # ValueError
        return True
    return False
