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

from engine.log.locations import Location
from engine.log.past import Past
from engine.log.side_past import SidePast
from engine.merge.documents import Contest, DocumentMerge, named
from schemas.document import kind_of, name_of

FileTree = Mapping[str, str]


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


@dataclass(frozen=True, slots=True)
class Side:
    """One side: its tree, and what was decided on it since the bases."""

    tree: FileTree
    decided: SidePast = field(default_factory=SidePast)


def merge_books(
    past: Past, bases: Sequence[FileTree], ours: FileTree | Side, shared: FileTree | Side
) -> MergedBook:
    """The merge of two sides that come from `bases`; of a bare tree only what it holds counts."""
    sides = [side if isinstance(side, Side) else Side(side) for side in (ours, shared)]
    return _Merge(past, bases, *sides).run()


class _Merge:
    """One merge; `final` are the places of documents in the result, by key."""

    def __init__(self, past: Past, bases: Sequence[FileTree], ours: Side, shared: Side) -> None:
        self.past = past
        self.ours, self.shared, self.bases = ours.tree, shared.tree, bases
        self.here, self.there = ours.decided, shared.decided
        sides = (self.shared, self.ours, *bases)
        paths = dict.fromkeys(path for tree in sides for path in tree)
        self.open = [p for p in paths if len({side.get(p) for side in sides}) > 1]
        self.documents = DocumentMerge(past, self.here, self.there)
        self.said = self.documents.said
        self.result = MergedBook(contests=self.documents.contests, said=self.said)
        self.final: dict[str, Location] = {}

    def run(self) -> MergedBook:
        """Documents, then other files, then the difference to our tree."""
        base_docs = [self._documents(base, {}) for base in self.bases]
        known = base_docs[0] if base_docs else {}
        ours, shared = self._documents(self.ours, known), self._documents(self.shared, known)
        for key in dict.fromkeys([*shared, *ours]):
            places = [docs[key] for docs in base_docs if key in docs]
            place = self.documents.merge(key, places, ours.get(key), shared.get(key))
            if place is not None:
                self.final[key] = place
        self.result.joined = list(self.documents.merged)
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
                self.said.append(
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
            if key in self.documents.merged:
                self.result.texts[place.path] = self.documents.merged[key]
            elif self.ours.get(place.path) != place.blob:
                self.result.blobs[place.path] = place.blob

    # other files

    def _file(self, path: str) -> None:
        """A program, a photo or any other file: no values, so one of the two stays whole."""
        here, there = self.ours.get(path), self.shared.get(path)
        before = {base.get(path) for base in self.bases}
        mine, theirs = self.here.file(path), self.there.file(path)
        if here == there or (there in before and theirs is None):
            return
        if here in before and mine is None:
            self.result.blobs[path] = there
            if there is None:
                self.said.append(f"{path} was deleted at the meeting point{named(theirs)}")
        elif here and there:
            self._set_aside(path, here, there)
        else:
            places = ("at the meeting point", "here")
            where, other = places if here else places[::-1]
            gone, left = (theirs, mine) if here else (mine, theirs)
            self.said.append(
                f"{path} was deleted {where}{named(gone)}, changed {other}{named(left)}: it stays"
            )
            if there:
                self.result.blobs[path] = there

    def _set_aside(self, path: str, here: str, there: str) -> None:
        pure = PurePosixPath(path)
        aside = str(pure.with_name(f"{pure.stem}-aside-{here[:8]}{pure.suffix}"))
        self.result.blobs |= {path: there, aside: here}
        self.result.asides.append(Aside(path, aside, here))
        mine, theirs = named(self.here.file(path)), named(self.there.file(path))
        self.said.append(
            f"{path} was changed on both sides: the shared one stays{theirs}, this box's is "
            f"{aside}{mine}"
        )


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
