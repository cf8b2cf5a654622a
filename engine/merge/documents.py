"""One document out of two sides of it: its name, and its values or one whole text.

A change beats a deletion, and what was changed and put back is a change. Of two texts that
cannot be merged value by value one stays in its place, and where the other one is kept is
said. `ours` is this box's side, `shared` the meeting point's; in a dispute the shared side
stays. Words name who did it where that is known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass

from engine.log.canonical_text import spell
from engine.log.commits import Saved
from engine.log.locations import Location
from engine.log.past import Past
from engine.log.side_past import SidePast
from engine.merge.run_logs import join_runs
from engine.merge.three_way import Joined, Values, group_in_record, join
from engine.views.wording import count
from schemas.address import Value, grow, lies_in
from schemas.document import Document, check_tree, kind_of, name_of
from schemas.errors import ReadError
from schemas.rewriting import format_of


@dataclass(frozen=True, slots=True)
class Contest:
    """One value that both sides changed; `shared` stands in the result, or `ours` if `yielded`.

    `kept`: it lies in an entry that one side took out and the other one changed.
    """

    key: str
    address: str
    base: Value | None
    ours: Value | None
    shared: Value | None
    yielded: bool = False
    kept: bool = False

    @property
    def stands(self) -> Value | None:
        """The value in the result."""
        return self.ours if self.yielded else self.shared

    @property
    def aside(self) -> Value | None:
        """The value that does not stand."""
        return self.shared if self.yielded else self.ours


def together(key: str, address: str) -> Callable[[str], bool]:
    """Whether another address stands or falls with one."""
    group = group_in_record(address) if key.startswith("wm-") else ""
    entry = ".".join(address.split(".")[:2])
    return lambda other: group_in_record(other) == group if group else lies_in(other, entry)


class DocumentMerge:
    """Merges documents one after another, and gathers what is to be told of them.

    `here` and `there` are what was decided on either side since the bases. `merged` are the
    texts whose values come from both sides, by key.
    """

    def __init__(self, past: Past, here: SidePast, there: SidePast) -> None:
        self._past = past
        self._here, self._there = here, there
        self.merged: dict[str, bytes] = {}
        self.contests: list[Contest] = []
        self.said: list[str] = []

    def merge(
        self, key: str, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        """Where the merged document lies; its blob is "" where its text is in `merged`."""
        if ours is None or shared is None:
            return self._one_sided(key, bases, ours, shared)
        path = self._name(key, bases, ours, shared)
        if ours.blob == shared.blob or self._as_before(self._here, key, bases, ours):
            return Location(path, shared.blob)
        if self._as_before(self._there, key, bases, shared):
            return Location(path, ours.blob)
        return self._both(key, path, bases, ours, shared)

    def _as_before(
        self, side: SidePast, key: str, bases: Sequence[Location], place: Location
    ) -> bool:
        """Whether nobody on a side decided anything about a document's values."""
        as_it_was = any(place.blob == base.blob for base in bases)
        as_it_was = as_it_was or self._only_upgraded(bases, place)
        return as_it_was and not side.addresses(key)

    def _one_sided(
        self, key: str, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        """Added on one side, or taken out on the other; a change beats a deletion."""
        left = ours or shared
        assert left is not None
        if not bases:
            return left
        side, other = (self._here, self._there) if ours else (self._there, self._here)
        renamed = self._renamed(side, key, bases, left)
        gone = named(other.last(key))
        if self._as_before(side, key, bases, left) and not renamed:
            where = "at the meeting point" if ours else "here"
            self.said.append(f"{name_of(left.path)} was deleted {where}{gone}, unchanged since")
            return None
        first, then = ("at the meeting point", "here") if ours else ("here", "there")
        self.said.append(
            f"{name_of(left.path)} was deleted {first}{gone} and changed {then}"
            f"{named(side.last(key))}: the change stays"
        )
        return left

    def _renamed(
        self, side: SidePast, key: str, bases: Sequence[Location], place: Location
    ) -> bool:
        """Whether a document got another name on a side, if only for a while."""
        before = {base.path for base in bases}
        return place.path not in before or not side.paths(key) <= before

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

    def _name(self, key: str, bases: Sequence[Location], ours: Location, shared: Location) -> str:
        if ours.path == shared.path or not self._renamed(self._here, key, bases, ours):
            return shared.path
        if not self._renamed(self._there, key, bases, shared):
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
        decided = (self._here.addresses(key), self._there.addresses(key))
        joined = _joined(path, old, here, there, decided)
        document = _checked(joined, path)
        if joined is None or document is None:
            stays = ours if self._holds(ours) and not self._holds(shared) else shared
            return self._one_text(path, ours, shared, stays, "cannot be merged value by value")
        self.merged[key] = document.bytes
        self._note(key, path, joined, (old[0] if old else {}, here, there))
        self._tell_comments(path, ours, shared)
        return Location(path, "")

    def _holds(self, place: Location) -> bool:
        """Whether a text breaks no rule."""
        try:
            return bool(self._past.document(place.path, place.blob))
        except ReadError:
            return False

    def _note(
        self, key: str, path: str, joined: Joined, texts: tuple[Values, Values, Values]
    ) -> None:
        """What does not stand: its contests, and in words what was taken out and stays."""
        base, ours, shared = texts
        kept = [(a, a not in shared) for a in joined.kept]
        both = [(a, a in joined.yielded) for a in joined.contested]
        found = [
            Contest(key, a, base.get(a), ours.get(a), shared.get(a), yielded, a in joined.kept)
            for a, yielded in [*both, *kept]
        ]
        self.contests += found
        out = [c for c in found if c.aside is None and c.stands is not None]
        entries: dict[str, list[Contest]] = {}
        for contest in out:
            entries.setdefault(".".join(contest.address.split(".")[:2]), []).append(contest)
        for entry, contests in entries.items():
            self._tell_kept(path, entry if contests[1:] else contests[0].address, contests)
        if joined.told:
            tables = ", ".join(dict.fromkeys(a.partition(".")[0] for a in joined.told))
            self.said.append(
                f"{name_of(path)}: {tables} was written on both sides: the shared one stays, the "
                "other one is in history"
            )

    def _tell_kept(self, path: str, entry: str, contests: Sequence[Contest]) -> None:
        """One entry, or one value, that was taken out on one side and changed on the other."""
        out, changed = "", ""
        for contest in contests:
            sides = (self._there, self._here) if contest.yielded else (self._here, self._there)
            key, near = contest.key, together(contest.key, contest.address)
            gone, stands = (
                side.who(key, contest.address, value, near)
                for side, value in zip(sides, (None, contest.stands), strict=True)
            )
            out, changed = out or named(gone), changed or named(stands)
        self.said.append(
            f"{name_of(path)}: {entry} was taken out on one side{out} and changed on the other"
            f"{changed}: it stays, changed"
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


def named(saved: Saved | None) -> str:
    """Who decided something, in which commit and why, in brackets; nothing where nobody knows."""
    if saved is None:
        return ""
    reason = f": {' '.join(saved.reason.split())}" if saved.reason else ""
    return f" ({saved.who.name}, {saved.id[:10]}{reason})"


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
    path: str, bases: Sequence[Values], ours: Values, shared: Values,
    decided: tuple[Set[str], Set[str]],
) -> Joined | None:  # fmt: skip
    """Values by the meaning of the document; None for files that are written once."""
    kind = kind_of(path)
    if kind == "record":
        return join(bases, ours, shared, group_in_record, decided)
    if kind == "run":
        return join_runs(bases, ours, shared)
    if kind in ("cell", "people", "book"):
        return join(bases, ours, shared, decided=decided)
    return None
