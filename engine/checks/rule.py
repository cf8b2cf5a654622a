"""A rule is one small function that looks and yields what it has to say.

    @rule("photo-unlabelled", "note", "Say with `witnessmark set {record} {address}=…`.")
    def photo_unlabelled(view: RecordView) -> Says:
        \"\"\"A reference photo does not say what it shows.\"\"\"
        for name, photo in view.model.photos.items():
            if not photo.shows:
                yield Say(f"photos.{name}.shows", f"nothing says what {photo.file} shows")

A rule about `record` gets a `RecordView` of each record that is in use, about
`cell` a `CellView`, about `document` a `DocumentView` of every document, one that
cannot be read included (`view.py`), about `book` the one `BookView` (`book_view.py`). In a hint,
`{record}` and `{address}` stand for those of the finding. A rule's name and level
never change meaning: people filter by them.

What rules say of one document is kept until something that they looked at changes, so
such a rule has no clock and sees no other document. A rule about the book is asked each
time: what it wants of each record it has `gathered`, which is kept in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

from engine.views import Level

About = Literal["record", "cell", "document", "book"]
Look = Callable[[Any], "Says"]
Kinds = tuple[str, ...]  # of documents


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
    """A named rule. `looks` has what it looks at; a few look at documents and at the book.

    `tells_of`: the kinds of documents that its findings can be of, where it is about the book.
    """

    name: str
    level: Level
    hint: str
    tells_of: Kinds
    meaning: str  # what it looks for, in one line
    looks: dict[About, Look] = field(default_factory=dict)


RULES: dict[str, Rule] = {}
ANYTHING = ("record", "cell", "people", "book")


def rule(
    name: str, level: Level, hint: str, about: About = "record", tells_of: Kinds = ANYTHING
) -> Callable[[Look], Look]:
    """Register a rule under a stable name."""

    def register(look: Look) -> Look:
        assert name not in RULES, name
        meaning = (look.__doc__ or "").split("\n")[0]
        RULES[name] = Rule(name, level, hint, tells_of, meaning, {about: look})
        return look

    return register


def further(name: str, about: About) -> Callable[[Look], Look]:
    """Another look of a rule, at something else."""

    def register(look: Look) -> Look:
        assert about not in RULES[name].looks, name
        RULES[name].looks[about] = look
        return look

    return register


@dataclass(frozen=True, slots=True)
class Gathered:
    """What is told of each record in use, or of each document, for rules about the book."""

    name: str
    about: About
    look: Callable[[Any], object]


GATHERED: dict[str, Gathered] = {}


def gathered(name: str, about: About = "record") -> Callable[[Callable[[Any], object]], Gathered]:
    """Register what is gathered: lists, tables, texts and numbers as JSON has them, or None."""

    def register(look: Callable[[Any], object]) -> Gathered:
        assert name not in GATHERED, name
        GATHERED[name] = Gathered(name, about, look)
        return GATHERED[name]

    return register
