"""People, as the reader would say them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.views import Draft, Who


def person(who: Who, me: str = "") -> str:
    """A person by name; `you` for the reader, whose key is `me`."""
    return "you" if who.key and who.key == me else who.name or who.login or "unknown"


def people_of(drafts: Iterable[Draft], me: str) -> str:
    """Whose pencil there is: `you, R. Lind`."""
    return ", ".join(dict.fromkeys(person(draft.who, me) for draft in drafts))
