"""The files of one commit, tree by tree, read when somebody asks.

The same mapping as reading all of it at once, in the same order (git's own), but a
question about one file reads only the trees above it, and a tree that two commits
share is read once. Links and sub-projects are no files: `others` names them.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from threading import Lock

from engine.repo.commit_object import tree_of
from engine.repo.object_pipe import missing

Read = Callable[[str], tuple[str, bytes]]  # id or name -> id, bytes
ReadMany = Callable[[Sequence[str]], list[tuple[str, bytes]]]
TREE, BLOB, OTHER = "tree", "blob", "other"  # other: a link, a sub-project
Tree = dict[str, tuple[str, str]]  # name -> which of the three, id

TREE_MODE, BLOB_MODE = b"40000", b"100644"
_MOST_ENTRIES = 200_000


def tree_entries(data: bytes, width: int) -> Iterator[tuple[bytes, bytes, str]]:
    """(mode, name, id) of each entry of a tree object; `width` is the length of an id, in bytes."""
    start = 0
    while start < len(data):
        zero = data.index(b"\0", start)
        mode, _, name = data[start:zero].partition(b" ")
        start = zero + 1 + width
        yield mode, name, data[zero + 1 : start].hex()


class Trees:
    """Trees of a repository by id; those that were asked for last are kept."""

    def __init__(self, read: Read) -> None:
        self._read = read
        self._kept: OrderedDict[str, Tree] = OrderedDict()
        self._entries = 0
        self._lock = Lock()

    def tree(self, oid: str) -> Tree:
        """What lies in a tree. BookError where the repository lost it."""
        with self._lock:
            if oid in self._kept:
                self._kept.move_to_end(oid)
                return self._kept[oid]
        found, data = self._read(oid)
        if not found:
            raise missing(oid)
        return self._take(oid, data)

    def fetch(self, oids: Iterable[str], read: ReadMany) -> None:
        """Have some trees at hand, all that are not yet read at once."""
        with self._lock:
            wanted = [oid for oid in dict.fromkeys(oids) if oid and oid not in self._kept]
        for oid, (found, data) in zip(wanted, read(wanted), strict=True):
            if found:
                self._take(oid, data)

    def _take(self, oid: str, data: bytes) -> Tree:
        made = {
            name.decode("utf-8", "surrogateescape"): (_kind(mode), inner)
            for mode, name, inner in tree_entries(data, len(oid) // 2)
        }
        with self._lock:
            if oid not in self._kept:
                self._entries += len(made) + 8
            self._kept[oid] = made
            while self._entries > _MOST_ENTRIES and len(self._kept) > 1:
                self._entries -= len(self._kept.popitem(last=False)[1]) + 8
        return made

    def root_of(self, commit: str) -> str:
        """The id of a commit's own tree; empty where there is no such commit."""
        return tree_of(self._read(commit)[1])


def _kind(mode: bytes) -> str:
    if mode == TREE_MODE:
        return TREE
    return BLOB if mode.startswith(b"100") else OTHER


class Files(Mapping[str, str]):
    """Blobs of a commit by path."""

    def __init__(self, trees: Trees, root: str) -> None:
        self._trees = trees
        self._root = root

    def folder_id(self, path: str) -> str:
        """The id of a folder: the same for the same files in it. Empty where there is none."""
        oid = self._root
        for name in path.split("/") if path else ():
            kind, oid = self._trees.tree(oid).get(name, (OTHER, "")) if oid else (OTHER, "")
            if kind != TREE:
                return ""
        return oid

    def entries(self, path: str) -> Tree:
        """What lies in a folder; nothing where there is none."""
        oid = self.folder_id(path)
        return self._trees.tree(oid) if oid else {}

    def differing(self, old: Files, folder: str = "") -> Iterator[tuple[str, str]]:
        """Files that `old` lacks or has otherwise, by path and blob; equal trees are not read."""
        if old.folder_id(folder) == self.folder_id(folder):
            return
        before = old.entries(folder)
        for name, (kind, oid) in self.entries(folder).items():
            if not name or "/" in name:
                continue  # no git makes such a name, and no path leads there
            path = f"{folder}/{name}" if folder else name
            if before.get(name) == (kind, oid):
                continue
            if kind == TREE:
                yield from self.differing(old, path)
            elif kind == BLOB:
                yield path, oid

    def under(self, path: str) -> Iterator[tuple[str, str]]:
        """All files below a folder: path and blob."""
        return self._walk(self.folder_id(path), f"{path}/" if path else "", BLOB)

    def others(self) -> Iterator[str]:
        """Paths of all links and sub-projects."""
        return (path for path, _ in self._walk(self._root, "", OTHER))

    def _walk(self, oid: str, prefix: str, wanted: str) -> Iterator[tuple[str, str]]:
        for name, (kind, inner) in self._trees.tree(oid).items() if oid else ():
            if kind == wanted:
                yield prefix + name, inner
            elif kind == TREE:
                yield from self._walk(inner, f"{prefix}{name}/", wanted)

    def __getitem__(self, path: str) -> str:
        above, _, name = path.rpartition("/")
        folder = self.folder_id(above)
        kind, oid = self._trees.tree(folder).get(name, (OTHER, "")) if folder else (OTHER, "")
        if kind != BLOB:
            raise KeyError(path)
        return oid

    def __iter__(self) -> Iterator[str]:
        return (path for path, _ in self.under(""))

    def __len__(self) -> int:
        return sum(1 for _ in self)
