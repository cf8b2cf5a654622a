"""Every object of a repository, read once and held against its id; nothing is written.

Whatever a ref leads to is looked at: commits, their trees, all files. What is damaged or
missing is told with the oldest commit and the path that it was met in; what lies behind a
damaged commit or tree cannot be looked at through it. Files under `objects` that no ref
leads to are looked at last.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from engine.repo.commit_object import RawCommit, read_commit, tree_of
from engine.repo.git import Git
from engine.repo.object_id import BadObject
from engine.repo.object_pipe import ObjectPipe
from engine.repo.trees import TREE_MODE
from schemas.errors import BookError

_ASKED = 200  # names in git's pipe at once
_SUB_PROJECT = b"160000"
_LOOSE = re.compile(r"[0-9a-f]{38}|[0-9a-f]{62}")
_WHOLE = re.compile(r"[0-9a-f]{40}|[0-9a-f]{64}")
Tell = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Fault:
    """An object that is not as it should be. `commit` None: no ref leads to it."""

    oid: str
    what: str  # in words: "is missing"
    file: str  # relative to the folder that holds `.git`
    commit: RawCommit | None = None
    path: str = ""  # of the file or folder; empty for the commit itself and its whole tree


@dataclass(frozen=True, slots=True)
class _Place:
    """Where an object was met."""

    oid: str
    commit: RawCommit | None
    path: str


class Inspection:
    """One look at everything; `count` objects were read so far."""

    def __init__(self, git: Git, tell: Tell = lambda _: None) -> None:
        self._git = git
        self._tell = tell
        self._pipe = ObjectPipe(git, str(git.folder))
        self._seen: set[str] = set()
        self.count = 0

    def faults(self) -> Iterator[Fault]:
        """What is damaged or missing, commits first."""
        try:
            commits: list[tuple[RawCommit, str]] = []
            yield from self._commits(commits)
            for commit, tree in reversed(commits):  # the oldest first
                yield from self._files(commit, tree)
            yield from self._rest()
        finally:
            self._pipe.close()

    def _commits(self, found: list[tuple[RawCommit, str]]) -> Iterator[Fault]:
        """Every commit that a ref leads to, newest first; what is wrong with them is told."""
        wanted = [_Place(oid, None, "") for oid in self._tips()]
        while wanted:
            later: list[_Place] = []
            for place, data in self._read(wanted):
                if isinstance(data, Fault):
                    yield data
                    continue
                if data.startswith(b"object "):  # a tag
                    later.append(_Place(data[7:].partition(b"\n")[0].decode(), None, ""))
                    continue
                commit = read_commit(place.oid, data)
                found.append((commit, tree_of(data)))
                later += [_Place(oid, commit, "") for oid in commit.parents]
            wanted = later

    def _tips(self) -> list[str]:
        """What HEAD and all refs point at, each once."""
        named = self._git.run("for-each-ref", "--format=%(objectname)").decode().split()
        text = (self._git.private / "HEAD").read_text(encoding="utf-8", errors="replace").strip()
        detached = [text] if _WHOLE.fullmatch(text) else []
        return list(dict.fromkeys([*named, *detached]))

    def _files(self, commit: RawCommit, tree: str) -> Iterator[Fault]:
        """Trees and files of a commit that were not looked at before."""
        wanted = [_Place(tree, commit, "")]
        while wanted:
            later: list[_Place] = []
            blobs: list[_Place] = []
            for place, data in self._read(wanted):
                if isinstance(data, Fault):
                    yield data
                    continue
                for is_tree, inner in self._inside(place, data):
                    (later if is_tree else blobs).append(inner)
            yield from (data for _, data in self._read(blobs) if isinstance(data, Fault))
            wanted = later

    def _inside(self, tree: _Place, data: bytes) -> Iterator[tuple[bool, _Place]]:
        """What lies in a tree and was not met before: whether it is a tree, and where."""
        width = len(tree.oid) // 2
        entries = re.finditer(rb"([0-7]+) ([^\0]+)\0(.{%d})" % width, data, re.DOTALL)
        for mode, name, raw in (entry.groups() for entry in entries):
            oid = raw.hex()
            if oid not in self._seen and mode != _SUB_PROJECT:
                said = name.decode("utf-8", "surrogateescape")
                path = f"{tree.path}/{said}" if tree.path else said
                yield mode == TREE_MODE, replace(tree, oid=oid, path=path)

    def _rest(self) -> Iterator[Fault]:
        """Files under `objects` that nothing led to."""
        folder = self._git.private / "objects"
        names = (
            _Place(f"{file.parent.name}{file.name}", None, "")
            for file in sorted(folder.glob("[0-9a-f][0-9a-f]/*"))
            if _LOOSE.fullmatch(file.name)
        )
        for _, data in self._read(list(names)):
            if isinstance(data, Fault):
                yield data

    def _read(self, places: Sequence[_Place]) -> Iterator[tuple[_Place, bytes | Fault]]:
        """The bytes of objects that were not read before, or what is wrong with them."""
        left = []
        for place in places:
            if place.oid and place.oid not in self._seen:
                self._seen.add(place.oid)
                left.append(place)
        while left:
            now, answered = left[:_ASKED], 0
            self._pipe.ask([place.oid for place in now])
            for place in now:
                answered += 1
                found = self._take(place)
                yield place, found
                if isinstance(found, Fault) and not self._pipe.due:
                    break  # git was ended over it: the others are asked for anew
            left = left[answered:]
            self._tell(self.count)

    def _take(self, place: _Place) -> bytes | Fault:
        self.count += 1
        try:
            found, data = self._pipe.take()
        except BadObject as error:
            return Fault(place.oid, error.said, error.file, place.commit, place.path)
        except BookError:
            return self._fault(place, "cannot be read")
        return data if found else self._fault(place, "is missing, or its pack is damaged")

    def _fault(self, place: _Place, what: str) -> Fault:
        return Fault(place.oid, what, ".git/objects/pack", place.commit, place.path)
