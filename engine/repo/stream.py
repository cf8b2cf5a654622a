"""All commits of a span of history as git streams them, oldest first.

Nothing is interpreted and nothing is kept: memory does not grow with the length
of the history. A commit is given with one list of differing files for each of
its parents; an empty one where that parent has the very same files. Links and
sub-projects count as no file. Git's log believes what lies under an object's name; so a
commit that has a file of its own, and the trees in which it differs, are held against
their ids before it is given. What lies in a pack is kept by the pack's own sums.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO

from engine.repo.commit_object import RawCommit, moment_of, tree_of
from engine.repo.git import Git
from engine.repo.object_id import loose_file
from engine.repo.process import PIPE_BYTES, end, failed, widen

NOTHING = ""
_PLAIN = re.compile(r"[A-Za-z0-9._-]+(?:/[A-Za-z0-9._-]+)*")  # can stand in a question to git
_FIELDS = "%x02%H%x00%P%x00%T%x00%an%x00%ae%x00%cn%x00%ce%x00%ad%x00%cd%x00%B"
_LOG = (
    "log",
    f"--format={_FIELDS}",
    "--date=raw",
    "--encoding=none",
    "--raw",
    "-z",
    "-m",
    "--root",
    "--topo-order",
    "--reverse",
    "--no-abbrev",
    "--no-renames",
    "--no-ext-diff",
    "--no-textconv",
)
_NO_FILES = (b"120000", b"160000")  # a link, a sub-project


@dataclass(frozen=True, slots=True)
class Differing:
    """A file that differs from one parent: blob there and here, "" for no file."""

    path: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Streamed:
    """One commit, and what differs from each of its parents."""

    raw: RawCommit
    differing: tuple[list[Differing], ...]


def commits(git: Git, *span: str) -> Iterator[Streamed]:
    """All commits of a span of history, parents before children."""

    def tree(commit: str) -> str:
        return tree_of(git.object(commit)[1])

    with _running(git, (*_LOG, *span, "--")) as output:
        for raw, parts in _joined(_tokens(output)):
            one = Streamed(raw, _by_parent(raw, parts, tree))
            if loose_file(git.private, raw.id).exists():
                _look_at(git, one)
            yield one


def _look_at(git: Git, one: Streamed) -> None:
    """BadObject where a commit, or a tree above what differs in it, is not what its name says."""
    commit = one.raw.id
    folders = {part for files in one.differing for file in files for part in _above(file.path)}
    plain = sorted(folder for folder in folders if _PLAIN.fullmatch(folder))
    git.objects([commit, f"{commit}^{{tree}}", *(f"{commit}:{folder}" for folder in plain)])
    for folder in folders.difference(plain):
        git.tree(commit).entries(folder)


def _above(path: str) -> Iterator[str]:
    """The folders above a path."""
    while "/" in path:
        path = path.rpartition("/")[0]
        yield path


def blobs_at(git: Git, head: str, path: str) -> list[str]:
    """Every blob that ever stood at a path, newest first, each once."""
    with _running(git, (*_LOG, "--full-history", head, "--", path)) as output:
        found = [
            blob
            for _, parts in _joined(_tokens(output))
            for files in parts
            for file in files
            for blob in (file.old, file.new)
            if blob
        ]
    return list(dict.fromkeys(reversed(found)))


@contextmanager
def _running(git: Git, words: Sequence[str]) -> Iterator[IO[bytes]]:
    """The output of a git; BookError where it ended badly."""
    running = git.start(words)
    widen(running.proc.stdout)
    errors, finished = b"", False
    try:
        yield running.proc.stdout
        finished = True
    finally:
        errors = end(running, kill=not finished)
    if running.proc.returncode:
        hint = "`git fsck` in the book's folder says what is damaged."
        raise failed(words[0], errors, str(git.folder), hint)


def _tokens(stdout: IO[bytes]) -> Iterator[bytes]:
    rest = b""
    while chunk := stdout.read(PIPE_BYTES):
        *whole, rest = (rest + chunk).split(b"\0")
        yield from whole
    if rest:
        yield rest


def _joined(tokens: Iterator[bytes]) -> Iterator[tuple[RawCommit, list[list[Differing]]]]:
    """Commits out of tokens; a merge comes with a list for each parent that it differs from."""
    last: RawCommit | None = None
    parts: list[list[Differing]] = []
    token = next(tokens, b"")
    while token:
        raw = _commit(token, tokens)
        files: list[Differing] = []
        token = next(tokens, b"")
        while token[:2] == b"\n:" or token[:1] == b":":
            entry = _entry(token, next(tokens))
            if entry is not None:
                files.append(entry)
            token = next(tokens, b"")
        if last is not None and last.id != raw.id:
            yield last, parts
            parts = []
        last = raw
        parts.append(files)
    if last is not None:
        yield last, parts


def _by_parent(
    raw: RawCommit, parts: list[list[Differing]], tree: Callable[[str], str]
) -> tuple[list[Differing], ...]:
    """One list for each parent; git leaves out a parent that has the very same tree."""
    if len(parts) >= len(raw.parents):
        return tuple(parts)
    own, told = tree(raw.id), iter(parts)
    return tuple([] if tree(parent) == own else next(told, []) for parent in raw.parents)


def _commit(token: bytes, tokens: Iterator[bytes]) -> RawCommit:
    parents, tree, name, mail, by, by_mail, stamp, late, message = (
        next(tokens).decode("utf-8", "replace") for _ in range(9)
    )
    return RawCommit(
        token[1:].decode(),
        tuple(parents.split()),
        (name, mail),
        (by, by_mail),
        moment_of(stamp),
        message,
        tree,
        (stamp, late),
    )


def _entry(token: bytes, path: bytes) -> Differing | None:
    """`:100644 100644 old new M` with the file's path."""
    old_mode, mode, old, new, _ = token.lstrip(b"\n").split(b" ")
    before = NOTHING if old_mode[1:] in _NO_FILES or not old.strip(b"0") else old.decode()
    after = NOTHING if mode in _NO_FILES or not new.strip(b"0") else new.decode()
    if before == after:
        return None
    return Differing(path.decode("utf-8", "surrogateescape"), before, after)
