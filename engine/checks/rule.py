"""A rule is one small function that looks and yields what it has to say.

    @rule("photo-missing", "error", "Put the picture there, or correct the path.")
    def photo_missing(view: RecordView) -> Says:
        ...
        yield address, f"{path} is not there"

A rule about records gets a `RecordView`, a rule about the whole book a
`BookView`. Its name and level never change meaning: people filter by them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from engine.answers import Level

Says = Iterator[tuple[str, ...]]  # address, message [, document name [, file]]
About = Literal["record", "book"]


@dataclass(frozen=True, slots=True)
class Rule:
    """A named rule. `look` yields (address, message) or more, see `Says`."""

    name: str
    level: Level
    hint: str
    about: About
    look: Callable[[Any], Says]

    @property
    def meaning(self) -> str:
        """What the rule looks for, in one line."""
        return (self.look.__doc__ or "").split("\n")[0]


RULES: dict[str, Rule] = {}


def rule(
    name: str, level: Level, hint: str, about: About = "record"
) -> Callable[[Callable[[Any], Says]], Callable[[Any], Says]]:
    """Register a rule under a stable name."""

    def register(look: Callable[[Any], Says]) -> Callable[[Any], Says]:
        assert name not in RULES, name
        RULES[name] = Rule(name, level, hint, about, look)
        return look

    return register
