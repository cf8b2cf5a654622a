"""The files of one commit, folder by folder, read when somebody asks.

The same mapping as reading all of it at once, in the same order (git's own), but a
question about one file reads only the folders above it, and a folder that two
commits share is read once. Links and sub-projects are left out.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from threading import Lock

Folder = dict[str, tuple[bool, str]]  # name -> is it a folder, id
Read = Callable[[str], tuple[str, bytes]]  # id or name -> id, bytes

_MOST_ENTRIES = 200_000


class Folders:
    """Folders of a repository by id; those that were asked for last are kept."""

    def __init__(self, read: Read) -> None:
        self._read = read
        self._kept: OrderedDict[str, Folder] = OrderedDict()
        self._entries = 0
        self._lock = Lock()

    def folder(self, oid: str) -> Folder:
        """What lies in a folder. KeyError where the repository lost it."""
        with self._lock:
            if oid in self._kept:
                self._kept.move_to_end(oid)
                return self._kept[oid]
        found, data = self._read(oid)
        if not found:
            raise KeyError(oid)
        made = _parse(data, len(oid) // 2)
        with self._lock:
            if oid not in self._kept:
                self._entries += len(made) + 8
            self._kept[oid] = made
            while self._entries > _MOST_ENTRIES and len(self._kept) > 1:
                self._entries -= len(self._kept.popitem(last=False)[1]) + 8
        return made

    def root_of(self, commit: str) -> str:
        """The id of a commit's own folder; empty where there is no such commit."""
        data = self._read(commit)[1]
        head = data.partition(b"\n")[0]
        return head[5:].decode() if head.startswith(b"tree ") else ""


def _parse(data: bytes, width: int) -> Folder:
    made: Folder = {}
    start = 0
    while start < len(data):
        zero = data.index(b"\0", start)
        mode, _, name = data[start:zero].partition(b" ")
        oid = data[zero + 1 : zero + 1 + width].hex()
        start = zero + 1 + width
        if mode == b"40000":
            made[name.decode("utf-8", "surrogateescape")] = (True, oid)
        elif mode.startswith(b"100"):
            made[name.decode("utf-8", "surrogateescape")] = (False, oid)
    return made


class Files(Mapping[str, str]):
    """Blobs of a commit by path."""

    def __init__(self, folders: Folders, root: str) -> None:
        self._folders = folders
        self._root = root

    def folder_id(self, path: str) -> str:
        """The id of a folder: the same for the same files in it. Empty where there is none."""
        oid = self._root
        for name in path.split("/") if path else ():
            is_folder, oid = (
                self._folders.folder(oid).get(name, (False, "")) if oid else (False, "")
            )
            if not is_folder:
                return ""
        return oid

    def names(self, path: str) -> Folder:
        """What lies in a folder; nothing where there is none."""
        oid = self.folder_id(path)
        return self._folders.folder(oid) if oid else {}

    def under(self, path: str) -> Iterator[tuple[str, str]]:
        """All files below a folder: path and blob."""
        oid = self.folder_id(path)
        return self._walk(oid, f"{path}/" if path else "") if oid else iter(())

    def _walk(self, oid: str, prefix: str) -> Iterator[tuple[str, str]]:
        for name, (is_folder, inner) in self._folders.folder(oid).items():
            if is_folder:
                yield from self._walk(inner, f"{prefix}{name}/")
            else:
                yield prefix + name, inner

    def __getitem__(self, path: str) -> str:
        above, _, name = path.rpartition("/")
        is_folder, oid = self.names(above).get(name, (True, ""))
        if is_folder:
            raise KeyError(path)
        return oid

    def __iter__(self) -> Iterator[str]:
        return (path for path, _ in self.under(""))

    def __len__(self) -> int:
        return sum(1 for _ in self)
