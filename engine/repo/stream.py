"""What git streams: all commits of a span, oldest first, and many objects in one go.

Nothing is interpreted and nothing is kept: memory does not grow with the length
of the history. A commit is given with one list of differing files for each of
its parents, or with none where some parent has the very same files. Links and
sub-projects count as no file.
"""

from __future__ import annotations

import fcntl
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import IO, Any, cast

from engine.repo.git import Git, RawCommit, moment_of
from schemas.errors import BookError

NOTHING = ""
_PIPE = 1 << 20  # bytes that git may be ahead of us
_F_SETPIPE_SZ = 1031
_FIELDS = "%x02%H%x00%P%x00%an%x00%ae%x00%cn%x00%ce%x00%ad%x00%B"
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
    with _running(git, (*_LOG, *span, "--")) as process:
        yield from _joined(_tokens(cast("IO[bytes]", process.stdout)))


@contextmanager
def _running(git: Git, words: Sequence[str]) -> Iterator[Any]:
    process = git.start(words)
    _widen(process.stdout)
    finished = False
    try:
        yield process
        finished = True
    finally:
        if not finished:
            process.proc.kill()
        with suppress(OSError):
            process.proc.stdin.close()
        process.proc.stdout.close()
        errors = process.proc.stderr.read() if finished else b""
        process.proc.stderr.close()
        process.proc.wait()
    if process.proc.returncode:
        raise BookError(
            f"git {words[0]} failed: {errors.decode(errors='replace').strip()[:300]}",
            where=str(git.folder),
            hint="`git fsck` in the book's folder says what is damaged.",
        )


def _widen(pipe: IO[bytes]) -> None:
    with suppress(OSError):
        fcntl.fcntl(pipe.fileno(), _F_SETPIPE_SZ, _PIPE)


def _tokens(stdout: IO[bytes]) -> Iterator[bytes]:
    rest = b""
    while chunk := stdout.read(_PIPE):
        *whole, rest = (rest + chunk).split(b"\0")
        yield from whole
    if rest:
        yield rest


def _joined(tokens: Iterator[bytes]) -> Iterator[Streamed]:
    """Commits out of tokens; a merge comes once for each parent that it differs from."""
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
            yield _whole(last, parts)
            parts = []
        last = raw
        parts.append(files)
    if last is not None:
        yield _whole(last, parts)


def _whole(raw: RawCommit, parts: list[list[Differing]]) -> Streamed:
    """Fewer parts than parents: the files are those of a parent, so nothing is its own."""
    return Streamed(raw, tuple(parts) if len(parts) == max(len(raw.parents), 1) else ())


def _commit(token: bytes, tokens: Iterator[bytes]) -> RawCommit:
    parents, name, mail, by, by_mail, stamp, message = (
        next(tokens).decode("utf-8", "replace") for _ in range(7)
    )
    return RawCommit(
        token[1:].decode(),
        tuple(parents.split()),
        (name, mail),
        (by, by_mail),
        moment_of(stamp),
        message,
    )


def _entry(token: bytes, path: bytes) -> Differing | None:
    """`:100644 100644 old new M` with the file's path."""
    old_mode, mode, old, new, _ = token.lstrip(b"\n").split(b" ")
    before = NOTHING if old_mode[1:] in _NO_FILES or not old.strip(b"0") else old.decode()
    after = NOTHING if mode in _NO_FILES or not new.strip(b"0") else new.decode()
    if before == after:
        return None
    return Differing(path.decode("utf-8", "surrogateescape"), before, after)


class ObjectStream:
    """A second reader of objects, which is asked for many before the first is taken."""

    def __init__(self, git: Git) -> None:
        self._git = git
        self._process: Any = None

    def ask(self, names: Sequence[str]) -> None:
        """Ask for objects; each must be taken, in this order."""
        if not names:
            return
        if self._process is None:
            self._process = self._git.start(("cat-file", "--batch"))
            _widen(self._process.stdout)
        stdin = cast("IO[bytes]", self._process.stdin)
        stdin.write(("\n".join(names) + "\n").encode())
        stdin.flush()

    def take(self) -> bytes:
        """The bytes of the next object that was asked for. BookError where it is lost."""
        stdout = cast("IO[bytes]", self._process.stdout)
        head = stdout.readline().split()
        if len(head) != 3:
            name = head[0].decode() if head else "of history"
            raise BookError(
                f"object {name[:12]} is missing from the history",
                where=str(self._git.folder),
                hint="Fetch it from another copy of the book.",
            )
        size = int(head[2])
        data = stdout.read(size + 1)
        return data[:size]

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.proc.kill()
            for pipe in (self._process.proc.stdin, self._process.proc.stdout):
                with suppress(OSError):
                    pipe.close()
            self._process.proc.stderr.close()
            self._process.proc.wait()
            self._process = None
