"""A rule is one small function that looks and yields what it has to say.

    @rule("photo-unlabelled", "note", "Say with `witnessmark set {record} {address}=…`.")
    def photo_unlabelled(view: RecordView) -> Says:
        \"\"\"A reference photo does not say what it shows.\"\"\"
        for name, photo in view.model.photos.items():
            if not photo.shows:
                yield Say(f"photos.{name}.shows", f"nothing says what {photo.file} shows")

A rule about `record` gets a `RecordView` of each record that is in use, about
`cell` a `CellView`, about `document` a `DocumentView` of every document, one that
cannot be read included, about `book` the one `BookView`; see `view.py`. In a hint,
`{record}` and `{address}` stand for those of the finding. A rule's name and level
never change meaning: people filter by them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from engine.views import Level

About = Literal["record", "cell", "document", "book"]


@dataclass(frozen=True, slots=True)
class Say:
    """One thing to say. What is left empty is that of the view: its document, file and line.

    `hint` replaces the rule's own where one fits better.
    """

    address: str
    message: str
    hint: str = ""
    document: str = ""
    file: str = ""
    line: int | None = None


Says = Iterator[Say]


@dataclass(frozen=True, slots=True)
class Rule:
    """A named rule."""

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
