"""One document out of two sides of it: its name, and its values or one whole text.

A change beats a deletion. Of two texts that cannot be merged value by value one
stays in its place, and where the other one is kept is said. `ours` is this box's
side, `shared` the meeting point's; in a dispute the shared side stays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.log.canonical_text import spell
from engine.log.locations import Location
from engine.log.past import Past
from engine.merge.run_logs import join_runs
from engine.merge.three_way import Joined, group_in_record, join
from engine.views.wording import count
from schemas.address import Value, grow
from schemas.document import Document, check_tree, kind_of, name_of
from schemas.errors import ReadError
from schemas.rewriting import format_of


@dataclass(frozen=True, slots=True)
class Contest:
    """One value that both sides changed; `shared` stands in the result."""

    key: str
    address: str
    base: Value | None
    ours: Value | None
    shared: Value | None


class DocumentMerge:
    """Merges documents one after another, and gathers what is to be told of them.

    `merged` are the texts whose values come from both sides, by key.
    """

    def __init__(self, past: Past) -> None:
        self._past = past
        self.merged: dict[str, bytes] = {}
        self.contests: list[Contest] = []
        self.said: list[str] = []

    def merge(
        self, key: str, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        """Where the merged document lies; its blob is "" where its text is in `merged`."""
        if ours is None or shared is None:
            return self._one_sided(bases, ours, shared)
        path = self._name(bases, ours, shared)
        before = {place.blob for place in bases}
        if ours.blob == shared.blob or (before and ours.blob in before):
            return Location(path, shared.blob)
        if shared.blob in before or self._only_upgraded(bases, shared):
            return Location(path, ours.blob)
        if self._only_upgraded(bases, ours):
            return Location(path, shared.blob)
        return self._both(key, path, bases, ours, shared)

    def _one_sided(
        self, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        """Added on one side, or taken out on the other; a change beats a deletion."""
        left = ours or shared
        assert left is not None
        if not bases:
            return left
        untouched = any(left.blob == base.blob for base in bases)
        if untouched or self._only_upgraded(bases, left):
            where = "at the meeting point" if ours else "here"
            self.said.append(f"{name_of(left.path)} was deleted {where}, unchanged since")
            return None
        where, other = ("at the meeting point", "here") if ours else ("here", "there")
        self.said.append(
            f"{name_of(left.path)} was deleted {where} and changed {other}: the change stays"
        )
        return left

    def _only_upgraded(self, bases: Sequence[Location], place: Location) -> bool:
        """Whether a text is one of the bases' but for its format: no change of anybody's."""
        for base in bases:
            data = [self._past.git.blob(each.blob) for each in (place, base)]
            if format_of(data[0]) != format_of(data[1]) and self._says(place) == self._says(base):
                return self._says(place) is not None
        return False

    def _says(self, place: Location) -> tuple[list[tuple[str, str]], list[str]] | None:
        """Values to the letter, and the words of comments; None for a text that breaks a rule."""
        try:
            document = self._past.document(place.path, place.blob)
        except ReadError:
            return None
        values = [(address, spell(value)) for address, value in document.values.items()]
        return values, [words for _, _, words in document.comments]

    def _name(self, bases: Sequence[Location], ours: Location, shared: Location) -> str:
        before = {place.path for place in bases}
        if ours.path == shared.path or ours.path in before:
            return shared.path
        if shared.path in before:
            return ours.path
        self.said.append(
            f"{name_of(shared.path)} was renamed on both sides; it was "
            f"{name_of(ours.path)} here, the shared name stays"
        )
        return shared.path

    def _both(
        self, key: str, path: str, bases: Sequence[Location], ours: Location, shared: Location
    ) -> Location:
        """Changed on both sides: value by value, or one text where a text is not readable."""
        here = self._past.values(ours.path, ours.blob)
        there = self._past.values(shared.path, shared.blob)
        if here is None or there is None:
            stays = ours if there is None and here is not None else shared
            return self._one_text(path, ours, shared, stays, "cannot be read on one side")
        old = [self._past.values(place.path, place.blob) or {} for place in bases]
        joined = _joined(path, old, here, there)
        document = _checked(joined, path)
        if joined is None or document is None:
            stays = ours if self._holds(ours) and not self._holds(shared) else shared
            return self._one_text(path, ours, shared, stays, "cannot be merged value by value")
        self.merged[key] = document.bytes
        base = old[0] if old else {}
        self.contests += [
            Contest(key, a, base.get(a), here.get(a), there.get(a)) for a in joined.contested
        ]
        self._tell_kept(path, joined)
        self._tell_comments(path, ours, shared)
        return Location(path, "")

    def _holds(self, place: Location) -> bool:
        """Whether a text breaks no rule."""
        try:
            return bool(self._past.document(place.path, place.blob))
        except ReadError:
            return False

    def _tell_kept(self, path: str, joined: Joined) -> None:
        entries = dict.fromkeys(".".join(address.split(".")[:2]) for address in joined.kept)
        for entry in entries:
            self.said.append(
                f"{name_of(path)}: {entry} was taken out on one side and changed on the other: "
                "it stays, changed"
            )

    def _tell_comments(self, path: str, *places: Location) -> None:
        for place in places:
            try:
                comments = self._past.document(place.path, place.blob).comments
            except ReadError:
                continue
            if comments:
                number = count(len(comments), "comment")
                self.said.append(
                    f"{name_of(path)}: {number} of a hand-edited text: kept in "
                    f"history only (`git cat-file -p {place.blob[:12]}`)"
                )

    def _one_text(
        self, path: str, ours: Location, shared: Location, stays: Location, why: str
    ) -> Location:
        other = shared if stays is ours else ours
        whose = "this box's" if stays is ours else "the shared"
        self.said.append(
            f"{name_of(path)} {why}: {whose} text stays; the other one is kept in history "
            f"(`git cat-file -p {other.blob[:12]}` shows it)"
        )
        return Location(path, stays.blob)


def _checked(joined: Joined | None, path: str) -> Document | None:
    """The document that joined values make; None where they make none that keeps the rules."""
    if joined is None:
        return None
    try:
        return check_tree(grow(joined.values), path)
    except ReadError:
        return None
    except (AttributeError, IndexError, TypeError):  # a value on one side, a table on the other
        return None


def _joined(
    path: str, bases: Sequence[Mapping[str, Value]], ours: Mapping[str, Value],
    shared: Mapping[str, Value],
) -> Joined | None:  # fmt: skip
    """Values by the meaning of the document; None for files that are written once."""
    kind = kind_of(path)
    if kind == "record":
        return join(bases, ours, shared, group_in_record)
    if kind == "run":
        return join_runs(bases, ours, shared)
    if kind in ("cell", "people", "book"):
        return join(bases, ours, shared)
    return None
