"""The one place where git runs. Only verbs that run nothing else are used here.

A book's own configuration, hooks, filters, attributes, replace objects and
environment never reach git: every call names its folder, and every setting that
matters is given on the spot. Ids are whole; paths go behind `--` or through
standard input. A commit that `commit` returned and `move` published has been
flushed to the disk: a power cut after that keeps it.

GitPython is the door to the processes; its higher layers (index, commit, diff)
flush nothing and run filters, so they are not used.
"""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from typing import IO, Any, cast

from git.cmd import Git as Door

from engine.repo.objects import LooseObjects
from engine.repo.trees import Files, Folders
from schemas.errors import BookError

_SETTINGS = (
    "core.fsync=all",
    "core.fsyncMethod=fsync",
    "core.hooksPath=/dev/null",
    "core.fsmonitor=false",
    "core.pager=cat",
    "core.attributesFile=/dev/null",
    "core.excludesFile=/dev/null",
    "core.quotePath=false",
    "gc.auto=0",
    "maintenance.auto=false",
    "commit.gpgSign=false",
    "log.showSignature=false",
    "protocol.ext.allow=never",
    "core.autocrlf=false",
    "core.safecrlf=false",
    "diff.renames=false",
    "i18n.commitEncoding=utf-8",
    "advice.graftFileDeprecated=false",  # else every error begins with a lecture
)
_ENVIRONMENT = {
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_ATTR_NOSYSTEM": "1",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_LITERAL_PATHSPECS": "1",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_GRAFT_FILE": os.devnull,
    "GIT_TERMINAL_PROMPT": "0",
    "LC_ALL": "C",
}


@dataclass(frozen=True, slots=True)
class Signature:
    """Author and committer of a commit: one person at one moment."""

    name: str
    email: str
    when: datetime

    def stamp(self) -> str:
        """The moment as git wants it: seconds and offset."""
        return f"{int(self.when.timestamp())} {self.when.strftime('%z') or '+0000'}"


@dataclass(frozen=True, slots=True)
class RawCommit:
    """A commit as it stands in the repository, nothing interpreted."""

    id: str
    parents: tuple[str, ...]
    author: tuple[str, str]  # name, email
    committer: tuple[str, str]
    when: datetime
    message: str


def forget_inherited() -> None:
    """Drop every GIT_ variable of the caller: none may steer a book's git."""
    for name in [name for name in os.environ if name.startswith("GIT_")]:
        del os.environ[name]


class Git:
    """One repository, by the folder whose `.git` it is. Safe to call from several threads."""

    def __init__(self, folder: Path) -> None:
        forget_inherited()
        self.folder = folder
        self.private = folder / ".git"
        self._door = Door(str(folder))
        self._lock = threading.Lock()
        self._batch: Any = None
        self._kept = threading.local()
        self._folders = Folders(self.object)
        self._objects = LooseObjects(self.private, self.object)
        self._environment = _ENVIRONMENT | {
            "GIT_DIR": str(self.private),
            "GIT_WORK_TREE": str(folder),
        }

    @contextmanager
    def keeping(self, handle: int) -> Iterator[None]:
        """Let every git that this thread starts hold the save lock as well.

        Else a git whose caller was killed could move the branch behind the next one's back.
        """
        self._kept.handles = (handle,)
        try:
            yield
        finally:
            self._kept.handles = ()

    def run(
        self, *words: str, data: bytes | None = None, environment: Mapping[str, str] | None = None
    ) -> bytes:
        """Standard output of one call. BookError with git's own words where it fails."""
        handles = getattr(self._kept, "handles", ())
        process = self.start(words, environment, handles)
        output, errors = process.communicate(data if data is not None else b"")
        if process.returncode:
            raise BookError(
                f"git {words[0]} failed: {errors.decode(errors='replace').strip()[:300]}",
                where=str(self.folder),
                hint="The book is unchanged. If it stays so, check disk space and rights.",
            )
        return cast("bytes", output)

    def start(
        self,
        words: Sequence[str],
        environment: Mapping[str, str] | None = None,
        handles: Sequence[int] = (),
    ) -> Any:
        """A git at work, with pipes to and from it; the caller ends it."""
        command = ["git", *(part for s in _SETTINGS for part in ("-c", s)), *words]
        return self._door.execute(
            command,
            as_process=True,
            istream=cast("Any", subprocess.PIPE),
            env={**self._environment, **(environment or {})},
            pass_fds=handles,
        )

    # reading

    def head(self) -> str:
        """The commit that the book stands on; empty before the first one."""
        kind, data = self.object("HEAD")
        del data
        return kind if len(kind) >= 40 else ""

    def has_refs(self) -> bool:
        """Whether anything was ever saved here."""
        return bool(self.run("for-each-ref", "--count=1").strip())

    def branch(self) -> str:
        """Full name of the branch that HEAD is on. BookError where HEAD is on none."""
        text = (self.private / "HEAD").read_text(encoding="utf-8").strip()
        if not text.startswith("ref: refs/heads/"):
            raise BookError(
                "the book's history is on no branch",
                where=str(self.folder),
                hint="Somebody looked at an old commit here; `git switch main` goes back.",
            )
        return text.removeprefix("ref: ")

    def object(self, name: str) -> tuple[str, bytes]:
        """(id, bytes) of one object by id or name; ("", b"") where there is none."""
        with self._lock:
            pipe = self._pipe()
            stdin, stdout = cast("IO[bytes]", pipe.stdin), cast("IO[bytes]", pipe.stdout)
            try:
                stdin.write(name.encode() + b"\n")
                stdin.flush()
                head = stdout.readline().split()
                if len(head) == 2 and head[1] == b"missing":
                    return "", b""
                data = stdout.read(int(head[2]))
                if stdout.read(1) != b"\n":
                    raise EOFError
            except BaseException as error:  # the rest in the pipe would answer the next question
                pipe.proc.kill()
                self._batch = None
                if isinstance(error, OSError | EOFError | ValueError | IndexError):
                    raise self._unreadable(name) from error
                raise
            return head[0].decode(), data

    def _unreadable(self, name: str) -> BookError:
        return BookError(
            f"git could not read {name[:12]}",
            where=str(self.folder),
            hint="Try again. If it stays so, `git fsck` in the book's folder says what is damaged.",
        )

    def _pipe(self) -> Any:
        if self._batch is None or self._batch.poll() is not None:
            self._batch = self.start(("cat-file", "--batch"))
        return self._batch

    def blob(self, oid: str) -> bytes:
        """Bytes of one object. BookError where the repository lost it."""
        found, data = self.object(oid)
        if not found:
            raise BookError(
                f"object {oid[:12]} is missing from the history",
                where=str(self.folder),
                hint="Fetch it from another copy of the book.",
            )
        return data

    def raw_commit(self, oid: str) -> RawCommit:
        """One commit, read from its own bytes."""
        head, _, message = self.blob(oid).decode("utf-8", "replace").partition("\n\n")
        parents, people = [], {}
        for line in head.split("\n"):
            key, _, rest = line.partition(" ")
            if key == "parent":
                parents.append(rest)
            elif key in ("author", "committer"):
                people[key] = rest
        author, when = _person(people.get("author", ""))
        committer, _ = _person(people.get("committer", ""))
        return RawCommit(oid, tuple(parents), author, committer, when, message)

    def tree(self, commit: str) -> Files:
        """Blob ids of a commit by path. Links and sub-projects are left out."""
        return Files(self._folders, self._folders.root_of(commit) if commit else "")

    def blob_at(self, commit: str, path: str) -> str:
        """Id of what lies at a path in a commit; empty where nothing does."""
        return self.tree(commit).get(path, "")

    def raw_log(self, *span: str) -> Iterator[tuple[str, list[tuple[list[str], str, str]]]]:
        """Newest first: (commit, [(old blob of each parent, new blob, path)]).

        A merge lists only paths that differ from all of its parents. Blob ids
        of nothing but zeros stand for no file.
        """
        output = self.run(
            "log",
            "--format=%H",
            "--raw",
            "-z",
            "-c",
            "--full-history",
            "--root",
            "--topo-order",
            "--no-abbrev",
            "--no-renames",
            "--no-ext-diff",
            "--no-textconv",
            *span,
            "--",
        )
        commit, pending = "", None
        changes: list[tuple[list[str], str, str]] = []
        for token in output.decode("utf-8", "surrogateescape").split("\0"):
            if pending is not None:
                changes.append((pending[0], pending[1], token))
                pending = None
            elif token.startswith(":") or token.startswith("\n:"):
                pending = _raw_entry(token.strip("\n"))
            elif token.strip("\n"):
                if commit:
                    yield commit, changes
                commit, changes = token.strip("\n"), []
        if commit:
            yield commit, changes

    # writing

    def write_blob(self, data: bytes) -> str:
        """Store bytes as they are; their id. Flushed when this returns."""
        return self._objects.write(b"blob", data)

    def commit(
        self,
        parent: str,
        blobs: Mapping[str, str | None],
        message: str,
        person: Signature,
        more: Sequence[str] = (),
    ) -> str:
        """A commit on top of `parent` with paths set to blobs, or taken out (None).

        `more` are the other parents of a merge. Nothing points at it until `move` does.
        """
        root = self._folders.root_of(parent) if parent else ""
        tree = self._objects.folder_with(root, blobs)
        who = f"{_plain(person.name)} <{_plain(person.email)}> {person.stamp()}"
        head = [f"tree {tree}", *(f"parent {one}" for one in (parent, *more) if one)]
        head += [f"author {who}", f"committer {who}"]
        text = "\n".join(head) + "\n\n" + message.replace("\0", "").rstrip("\n") + "\n"
        return self._objects.write(b"commit", text.encode("utf-8"))

    def forget_trees(self) -> None:
        """Take away what killed saves left of their own indexes. Needs the save lock."""
        for left in (self.private / "witnessmark").glob("tree-*"):
            left.unlink(missing_ok=True)

    def set_index(
        self, blobs: Mapping[str, str | None], environment: Mapping[str, str] | None = None
    ) -> None:
        """Set or take out paths of an index (the main one unless named)."""
        if not blobs:
            return
        known = next((oid for oid in blobs.values() if oid), "") or self.head()
        zero = "0" * (len(known) or 40)
        lines = [
            f"100644 {oid}\t{path}" if oid else f"0 {zero}\t{path}" for path, oid in blobs.items()
        ]
        data = ("\0".join(lines) + "\0").encode("utf-8", "surrogateescape")
        self.run("update-index", "-z", "--add", "--index-info", data=data, environment=environment)

    def index_entries(self, paths: Sequence[str] = ()) -> dict[str, str]:
        """Blob ids in the main index, by path: of all files, or of those named."""
        entries = {}
        for line in self.run("ls-files", "-s", "-z", "--", *paths).split(b"\0"):
            if line:
                head, _, path = line.partition(b"\t")
                entries[path.decode("utf-8", "surrogateescape")] = head.split()[1].decode()
        return entries

    def move(self, branch: str, new: str, old: str) -> bool:
        """Let a branch point at `new` if it still points at `old`; False if it does not."""
        try:
            zero = "0" * len(new)
            self.run("update-ref", "-m", "witnessmark", "--", branch, new, old or zero)
        except BookError:
            now = self.head()
            if now == old:
                raise
            if now != new:  # a git that was killed at its very end did move it
                return False
        try:
            sync_folder((self.private / branch).parent)
        except OSError as error:
            raise BookError(
                f"the save is in the history, but the disk did not confirm it: {error.strerror}",
                where=str(self.folder),
                hint="A power cut could take it back. Look at the disk, then open the book again.",
            ) from error
        return True

    def is_ancestor(self, older: str, newer: str) -> bool:
        """Whether `older` is in the past of `newer` (or is it)."""
        if older == newer or f"parent {older}".encode() in self.object(newer)[1].split(b"\n\n")[0]:
            return True  # no walk for the step that every save makes
        return not self.run("rev-list", "-1", older, f"^{newer}", "--").strip()

    def merge_bases(self, one: str, other: str) -> list[str]:
        """The newest commits that two have in common; more than one where merges crossed."""
        try:
            return self.run("merge-base", "--all", one, other).decode().split()
        except BookError:  # git answers 1 for none
            return []

    def commits(self, head: str, *without: str) -> list[str]:
        """Commits in the past of `head` and not in that of the others, newest first."""
        not_these = [f"^{commit}" for commit in without if commit]
        return self.run("rev-list", "--topo-order", head, *not_these, "--").decode().split()

    def config_keys(self, file: Path) -> list[str]:
        """Keys of a repository's own configuration, nothing included, nothing run."""
        output = self.run(
            "config",
            "--file",
            str(file),
            "--no-includes",
            "--list",
            "--name-only",
            "-z",
        )
        return [key for key in output.decode("utf-8", "replace").split("\0") if key]

    def close(self) -> None:
        """End the process that reads objects; the next read starts a new one."""
        with self._lock:
            if self._batch is not None:
                self._batch.stdin.close()
                self._batch.wait()
                self._batch = None


def create(folder: Path) -> None:
    """Make a new repository in a folder, on the branch `main`, without any template."""
    forget_inherited()
    door = Door(str(folder))
    door.execute(
        ["git", "init", "-q", "--template=", "--initial-branch=main", "."], env=dict(_ENVIRONMENT)
    )
    mode = ["git", "config", "--file", ".git/config", "core.fileMode", "false"]
    door.execute(mode, env=dict(_ENVIRONMENT))  # a program from a stick is executable: no change
    for path in [*(folder / ".git").rglob("*"), folder / ".git", folder]:
        sync_folder(path)


def sync_folder(folder: Path) -> None:
    """Flush the names in a folder (or what stands in a file) to the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _raw_entry(token: str) -> tuple[list[str], str]:
    """`::100644 100644 100644 old1 old2 new MM` -> ([old1, old2], new)."""
    parents = len(token) - len(token.lstrip(":"))
    parts = token.lstrip(":").split(" ")
    ids = parts[parents + 1 : 2 * parents + 2]
    return ids[:-1], ids[-1]


def _plain(text: str) -> str:
    """A name or address without the signs that end it in a commit."""
    return "".join(sign for sign in text if sign not in "<>\n\0").strip()


def _person(text: str) -> tuple[tuple[str, str], datetime]:
    """`Name <mail> 1700000000 +0100` in its parts."""
    name, _, rest = text.partition(" <")
    email, _, stamp = rest.rpartition("> ")
    return (name, email), moment_of(stamp)


def moment_of(stamp: str) -> datetime:
    """The moment of `1700000000 +0100`; the epoch where it is malformed."""
    seconds, _, offset = stamp.partition(" ")
    try:
        return datetime.fromtimestamp(int(seconds), _zone(offset))
    except (ValueError, OverflowError, OSError):
        return datetime.fromisoformat("1970-01-01T00:00:00+00:00")


@lru_cache(maxsize=256)
def _zone(offset: str) -> tzinfo | None:
    return datetime.strptime(offset or "+0000", "%z").tzinfo
