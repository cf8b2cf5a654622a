"""Where a document lies in a commit: found by what it is, whatever it is called there.

A record is its id, so it may lie at any name under `records/`; any other document
is its path. A document that lies in a tree twice is the one at its first path.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from engine.repo.trees import Files

KeyOf = Callable[[str, str], str]  # path, blob -> what the document is


class Location(NamedTuple):
    """A document in a tree."""

    path: str
    blob: str


NOWHERE = Location("", "")


def locate(tree: Mapping[str, str], key: str, paths: Iterable[str], key_of: KeyOf) -> Location:
    """Where a document lies, looked for at some paths; NOWHERE where it lies at none of them."""
    for path in sorted(paths):
        blob = tree.get(path, "")
        if blob and key_of(path, blob) == key:
            return Location(path, blob)
    return NOWHERE


def possible_paths(files: Files, key: str) -> Iterable[str]:
    """Every path of a commit at which a document can lie."""
    if is_record(key):
        return (path for path, _ in files.under("records") if path.endswith(".toml"))
    return (any_path(key),)


def any_path(key: str) -> str:
    """A path under which a document's text is read; which one does not change its values."""
    return f"records/{key}.toml" if key.startswith("wm-") else f"{key}.toml"


def is_record(key: str) -> bool:
    """Whether a document is a record: by its id, or by its path where it has none."""
    return key.startswith(("wm-", "records/"))
