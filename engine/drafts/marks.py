"""A pencil mark, and how it stands in a journal.

A mark remembers the inked value it was set against and the commit of that moment:
that is how a later ink by somebody else is noticed. `unpack` gives what was packed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from engine.repo.journal import JournalLine
from schemas.address import Value
from schemas.toml import read_value, spell_value


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
    return None if value is None else spell_value(value)


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
    return entry | ({"note": mark.note} if mark.note else {})


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
    """Whether an entry can be replayed; a damaged one is passed over."""
    marks, what, draft = entry.get("marks", []), entry.get("do"), entry.get("draft", "")
    try:
        whole = all(
            isinstance(packed["address"], str)
            and isinstance(packed["base"], str)
            and datetime.fromisoformat(packed["at"]).tzinfo is not None
            and _readable(packed["value"])
            and _readable(packed["inked"])
            for packed in marks
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        return False
    return whole and isinstance(draft, str) and (bool(marks) or what in ("undo", "redo", "inked"))


@lru_cache(maxsize=4096)
def _readable(text: str | None) -> bool:
    try:
        return text is None or read_value(text) is not None
    except (ValueError, RecursionError):
        return False
