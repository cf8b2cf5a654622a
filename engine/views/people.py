"""People as the engine answers with them: by their key in people.toml, `name` for the eye."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Who:
    """A person as history knows them: key, name for the eye, and the login that was used."""

    key: str
    name: str
    login: str = ""


@dataclass(frozen=True, slots=True)
class Hint:
    """What points to another login without proving it: a variable, or where a session began."""

    source: str
    says: str


@dataclass(frozen=True, slots=True)
class Identity:
    """A person at a terminal; `key` is empty for somebody who only reads.

    `login` is the kernel's word. `hints` are nobody's: nothing follows from them.
    """

    key: str
    name: str
    login: str
    roles: tuple[str, ...] = ()
    may_ink: bool = False
    may_lead: bool = False
    candidates: tuple[str, ...] = ()  # keys to choose from where the login does not tell
    hints: tuple[Hint, ...] = ()


@dataclass(frozen=True, slots=True)
class Shared:
    """What was shared with which group; `left` is what belongs to others, with whom it does.

    `closed` are folders above it through which that group does not come.
    """

    folder: str
    how: str
    group: str
    changed: int
    left: tuple[tuple[str, str], ...] = ()
    closed: tuple[str, ...] = ()
