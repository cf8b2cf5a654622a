"""People, as the reader would say them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.views import Draft, Who


def person(who: Who, me: str = "") -> str:
    """A person by name; `you` for the reader, whose key is `me`."""
    return "you" if who.key and who.key == me else who.name or who.login or "unknown"


def person_and_login(who: Who, own: Mapping[str, Collection[str]]) -> str:
    """A person by name, with the login that was used where it is not theirs alone.

    `own` are the logins that stand for one person only, by that person's key.
    """
    name = person(who)
    obvious = not who.login or who.login in own.get(who.key, ())
    return name if obvious or name == who.login else f"{name} (login {who.login})"


def people_of(drafts: Iterable[Draft], me: str) -> str:
    """Whose pencil there is: `you, R. Lind`."""
    return ", ".join(dict.fromkeys(person(draft.who, me) for draft in drafts))
