"""Where the clocks of a book's boxes went wrong, as far as an answer leans on them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from engine.views.people import Who


@dataclass(frozen=True, slots=True)
class Backwards:
    """A save that is stamped earlier than the one that it stands on."""

    commit: str
    who: Who
    stamped: datetime
    after: datetime  # the stamp of the one before it
    after_commit: str


@dataclass(frozen=True, slots=True)
class Clocks:
    """Stamps that cannot be right: how many run backwards, the last ones of them, oldest first.

    `ahead` where some save is stamped later than the clock of whoever asks.
    """

    backwards: int
    last: tuple[Backwards, ...]
    ahead: bool
