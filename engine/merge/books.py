"""Two books become one: documents by what they are, other files by their path.

A record is its id, so that a rename on one side and a change on the other meet.
Nothing that a side saved is lost: a change beats a deletion, of two texts that
cannot be merged one stays in its place, and whatever does not stand in the result
is named in it: as contested values, as a file set aside, or in words. Both sides
are parents of the merge, so history holds all of it in any case.

`ours` is this box's side, `shared` the meeting point's; in a dispute the shared
side stays. Trees map paths to blob ids. Nothing is written here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from engine.log.past import Past
from engine.merge.run_logs import join_runs
from engine.merge.three_way import Joined, group_in_record, join
from schemas.address import Value, grow
from schemas.document import check_tree, kind_of, name_of
from schemas.errors import ReadError

FileTree = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Location:
    """Where a document lies on one side."""

    path: str
    blob: str


@dataclass(frozen=True, slots=True)
class Contest:
    """One value that both sides changed; `shared` stands in the result."""

    key: str
    address: str
    base: Value | None
    ours: Value | None
    shared: Value | None


@dataclass(frozen=True, slots=True)
class Aside:
    """A file that is no document and that both sides changed: ours, beside the shared one."""

    path: str
    aside: str
    blob: str


@dataclass
class MergedBook:
    """What to change in our tree: `blobs` by path (None takes out), `texts` still to be stored.

    `joined` are keys of documents whose values come from both sides.
    """

    blobs: dict[str, str | None] = field(default_factory=dict)
    texts: dict[str, bytes] = field(default_factory=dict)
    contests: list[Contest] = field(default_factory=list)
    asides: list[Aside] = field(default_factory=list)
    joined: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def merge_books(
    past: Past, bases: Sequence[FileTree], ours: FileTree, shared: FileTree
) -> MergedBook:
    """The merge of two trees that come from `bases`."""
    return _Merge(past, bases, ours, shared).run()


class _Merge:
    """One merge; `final` are the places of documents in the result, by key."""

    def __init__(
        self, past: Past, bases: Sequence[FileTree], ours: FileTree, shared: FileTree
    ) -> None:
        self.past = past
        self.ours, self.shared, self.bases = ours, shared, bases
        paths = dict.fromkeys(path for tree in (shared, ours, *bases) for path in tree)
        sides = (ours, shared, *bases)
        self.open = [p for p in paths if len({side.get(p) for side in sides}) > 1]
        self.result = MergedBook()
        self.final: dict[str, Location] = {}
        self.merged: dict[str, bytes] = {}

    def run(self) -> MergedBook:
        """Documents, then other files, then the difference to our tree."""
        base_docs = [self._documents(base, {}) for base in self.bases]
        known = base_docs[0] if base_docs else {}
        ours, shared = self._documents(self.ours, known), self._documents(self.shared, known)
        for key in dict.fromkeys([*shared, *ours]):
            places = [docs[key] for docs in base_docs if key in docs]
            place = self._document(key, places, ours.get(key), shared.get(key))
            if place is not None:
                self.final[key] = place
        self._make_room(shared)
        self._lay_down(ours)
        for path in self.open:
            if kind_of(path) is None:
                self._file(path)
        return self.result

    def _documents(self, tree: FileTree, known: Mapping[str, Location]) -> dict[str, Location]:
        """Documents among the open paths by key; a second one of the same id goes by its path."""
        found: dict[str, Location] = {}
        for path in sorted(self.open):
            if path not in tree or kind_of(path) is None:
                continue
            key, place = self.past.key(path, tree[path]), Location(path, tree[path])
            if key in found and key in known and known[key].path == path:
                other = found[key]
                found[f"{key} at {other.path}"] = other
                found[key] = place
            else:
                found[key if key not in found else f"{key} at {path}"] = place
        return found

    # documents

    def _document(
        self, key: str, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        if ours is None or shared is None:
            return self._one_sided(bases, ours, shared)
        path = self._name(bases, ours, shared)
        before = {place.blob for place in bases}
        if ours.blob == shared.blob or (before and ours.blob in before):
            return Location(path, shared.blob)
        if shared.blob in before:
            return Location(path, ours.blob)
        return self._both(key, path, bases, ours, shared)

    def _one_sided(
        self, bases: Sequence[Location], ours: Location | None, shared: Location | None
    ) -> Location | None:
        """Added on one side, or taken out on the other; a change beats a deletion."""
        left = ours or shared
        assert left is not None
        if not bases:
            return left
        if any(left.blob == base.blob for base in bases):
            where = "at the meeting point" if ours else "here"
            self.result.said.append(f"{name_of(left.path)} was deleted {where}, unchanged since")
            return None
        where, other = ("at the meeting point", "here") if ours else ("here", "there")
        self.result.said.append(
            f"{name_of(left.path)} was deleted {where} and changed {other}: the change stays"
        )
        return left

    def _name(self, bases: Sequence[Location], ours: Location, shared: Location) -> str:
        before = {place.path for place in bases}
        if ours.path == shared.path or ours.path in before:
            return shared.path
        if shared.path in before:
            return ours.path
        self.result.said.append(
            f"{name_of(shared.path)} was renamed on both sides; it was "
            f"{name_of(ours.path)} here, the shared name stays"
        )
        return shared.path

    def _both(
        self, key: str, path: str, bases: Sequence[Location], ours: Location, shared: Location
    ) -> Location:
        """Changed on both sides: value by value, or one text where a text is not readable."""
        here = self.past.values(ours.path, ours.blob)
        there = self.past.values(shared.path, shared.blob)
        if here is None or there is None:
            stays = ours if there is None and here is not None else shared
            return self._one_text(path, ours, shared, stays, "cannot be read on one side")
        old = [self.past.values(place.path, place.blob) or {} for place in bases]
        joined = _joined(path, old, here, there)
        text = _written(joined, path) if joined else None
        if joined is None or text is None:
            stays = ours if self._holds(ours) and not self._holds(shared) else shared
            return self._one_text(path, ours, shared, stays, "cannot be merged value by value")
        self.result.joined.append(key)
        self.merged[key] = text
        base = old[0] if old else {}
        self.result.contests += [
            Contest(key, a, base.get(a), here.get(a), there.get(a)) for a in joined.contested
        ]
        self._tell_kept(path, joined)
        self._tell_comments(path, ours, shared)
        return Location(path, "")

    def _holds(self, place: Location) -> bool:
        """Whether a text breaks no rule."""
        try:
            return bool(self.past.document(place.path, place.blob))
        except ReadError:
            return False

    def _tell_kept(self, path: str, joined: Joined) -> None:
        entries = dict.fromkeys(".".join(address.split(".")[:2]) for address in joined.kept)
        for entry in entries:
            self.result.said.append(
                f"{name_of(path)}: {entry} was taken out on one side and changed on the other: "
                "it stays, changed"
            )

    def _tell_comments(self, path: str, *places: Location) -> None:
        for place in places:
            try:
                comments = self.past.document(place.path, place.blob).comments
            except ReadError:
                continue
            if comments:
                self.result.said.append(
                    f"{name_of(path)}: {len(comments)} comments of a hand-edited text are kept in "
                    f"history only (`git cat-file -p {place.blob[:12]}`)"
                )

    def _one_text(
        self, path: str, ours: Location, shared: Location, stays: Location, why: str
    ) -> Location:
        other = shared if stays is ours else ours
        whose = "this box's" if stays is ours else "the shared"
        self.result.said.append(
            f"{name_of(path)} {why}: {whose} text stays; the other one is kept in history "
            f"(`git cat-file -p {other.blob[:12]}` shows it)"
        )
        return Location(path, stays.blob)

    # places

    def _make_room(self, shared: Mapping[str, Location]) -> None:
        """Two records that took one name: the shared one keeps it, the other gets its id on."""
        untouched = {p.lower() for p in self.ours if p not in set(self.open)}
        first = sorted(self.final, key=lambda key: self.final[key].path != _path(shared, key))
        taken: set[str] = set(untouched)
        for key in first:
            place = self.final[key]
            if place.path.lower() in taken and kind_of(place.path) == "record":
                moved = _free(place.path, key, taken)
                self.result.said.append(
                    f"two records took the name {name_of(place.path)}; the one of this box is "
                    f"{name_of(moved)} now"
                )
                self.final[key] = place = Location(moved, place.blob)
            taken.add(place.path.lower())

    def _lay_down(self, ours: Mapping[str, Location]) -> None:
        """What differs from our tree, once every document has its place."""
        wanted = {place.path for place in self.final.values()}
        self.result.blobs |= {p.path: None for p in ours.values() if p.path not in wanted}
        for key, place in self.final.items():
            if key in self.merged:
                self.result.texts[place.path] = self.merged[key]
            elif self.ours.get(place.path) != place.blob:
                self.result.blobs[place.path] = place.blob

    # other files

    def _file(self, path: str) -> None:
        """A program, a photo or any other file: no values, so one of the two stays whole."""
        here, there = self.ours.get(path), self.shared.get(path)
        before = {base.get(path) for base in self.bases}
        if here == there or there in before:
            return
        if here in before:
            self.result.blobs[path] = there
            if there is None:
                self.result.said.append(f"{path} was deleted at the meeting point")
        elif here and there:
            self._set_aside(path, here, there)
        else:
            places = ("at the meeting point", "here")
            where, other = places if here else places[::-1]
            self.result.said.append(f"{path} was deleted {where}, changed {other}: it stays")
            if there:
                self.result.blobs[path] = there

    def _set_aside(self, path: str, here: str, there: str) -> None:
        pure = PurePosixPath(path)
        aside = str(pure.with_name(f"{pure.stem}-aside-{here[:8]}{pure.suffix}"))
        self.result.blobs |= {path: there, aside: here}
        self.result.asides.append(Aside(path, aside, here))
        self.result.said.append(
            f"{path} was changed on both sides: the shared one stays, this box's is {aside}"
        )


def _written(joined: Joined, path: str) -> bytes | None:
    """The text of merged values; None where they break a rule, or one stands in another's way."""
    try:
        return check_tree(grow(joined.values), path).bytes
    except (ReadError, IndexError, AttributeError):
        return None


def _path(places: Mapping[str, Location], key: str) -> str:
    return places[key].path if key in places else ""


def _free(path: str, key: str, taken: set[str]) -> str:
    """A path with the record's id on its name, and a number where that is taken too."""
    stem = path.removesuffix(".toml")[: 60 - len(key)]
    found, n = f"{stem}-{key.partition(' ')[0]}.toml", 1
    while found.lower() in taken:
        n += 1
        found = f"{stem}-{n}.toml"
    return found


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
