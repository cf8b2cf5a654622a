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

import re
import secrets
import subprocess
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from shutil import rmtree
from threading import Thread
from typing import cast

from engine.repo.commit_object import RawCommit, Signature, read_commit, tree_of, write_commit
from engine.repo.door import ENVIRONMENT, Door, executed, forget_inherited
from engine.repo.durable import disk_refused, flush
from engine.repo.object_pipe import ObjectPipe, could_not_read, missing
from engine.repo.objects import LooseObjects
from engine.repo.private import read_plain
from engine.repo.process import Running, end, failed
from engine.repo.rights import stop_if_object_hidden
from engine.repo.trees import Files, Trees
from schemas.errors import BookError

__all__ = ["Git", "Signature", "create"]  # a commit is made by somebody

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
    "core.filesRefLockTimeout=1000",  # ms: a git by hand has a branch locked for less
)


_SMALL, _MOST_COMMITS = 4_000, 256  # bytes of a commit, and how many are kept
_MOVE = ("update-ref", "-m", "witnessmark", "--stdin", "-z")
_BEGUN = ".begun-"  # where a new repository is made before it is in its place
_NAME = re.compile(r"[A-Za-z0-9][^\x00-\x20\x7f]{0,299}")  # no space, nothing that ends a line
MOST_LINE = 10_000  # bytes of HEAD
_BRANCH = re.compile(r"ref: (refs/heads/[A-Za-z0-9_-]{1,80})\n?")
_OID = re.compile(r"[0-9a-f]{40}|[0-9a-f]{64}")
_AT_ONCE = 400  # objects: git's answers must not fill its pipe while it is still asked
_DIGITS = re.compile(r"[0-9a-f]{4,64}")


class Git:
    """One repository, by the folder whose `.git` it is. Safe to call from several threads."""

    def __init__(self, folder: Path) -> None:
        forget_inherited()
        self.folder = folder
        self.private = folder / ".git"
        self._door = Door(str(folder))
        self._lock = threading.Lock()
        self._pipe = ObjectPipe(self, str(folder))
        self._kept = threading.local()
        self._commits: dict[str, tuple[str, bytes]] = {}  # that a save asks for again and again
        self._trees = Trees(self.object)
        self._objects = LooseObjects(self.private, self.object)
        self._environment = ENVIRONMENT | {
            "GIT_DIR": str(self.private),
            "GIT_WORK_TREE": str(folder),
        }

    @contextmanager
    def keeping(self, *handles: int) -> Iterator[None]:
        """Let every git that this thread starts hold the save lock as well.

        Else a git whose caller was killed could move the branch behind the next one's back.
        """
        self._kept.handles = handles
        try:
            yield
        finally:
            self._kept.handles = ()

    def in_thread(self, act: Callable[[], None]) -> Thread:
        """Begin something in a thread of its own, whose gits hold what this one's hold."""
        handles = self._handles()

        def work() -> None:
            with self.keeping(*handles):
                act()

        thread = Thread(target=work)
        thread.start()
        return thread

    def _handles(self) -> tuple[int, ...]:
        return getattr(self._kept, "handles", ())

    def run(
        self,
        *words: str,
        data: bytes | None = None,
        environment: Mapping[str, str] | None = None,
        none: int = 0,
    ) -> bytes:
        """Standard output of one call. BookError with git's own words where it fails.

        `none`: the exit status by which this verb says, without a word, that there is none.
        """
        running = self.start(words, environment, self._handles())
        return self._answer(words[0], running, data or b"", none)  # forgotten, it would end at once

    def _answer(self, verb: str, running: Running, data: bytes, none: int = 0) -> bytes:
        output, errors = running.proc.communicate(data)
        status = running.proc.returncode
        if status and (status != none or errors):
            hint = "The book is unchanged. If it stays so, check disk space and rights."
            raise failed(verb, errors, str(self.folder), hint)
        return output

    def start(
        self,
        words: Sequence[str],
        environment: Mapping[str, str] | None = None,
        handles: Sequence[int] = (),
    ) -> Running:
        """A git at work, with pipes to and from it; the caller ends it."""
        command = ["git", *(part for s in _SETTINGS for part in ("-c", s)), *words]
        running = executed(
            self._door,
            command,
            as_process=True,
            istream=subprocess.PIPE,
            env={**self._environment, **(environment or {})},
            pass_fds=handles,
        )
        return cast("Running", running)

    # reading

    def head(self) -> str:
        """The commit that the book stands on; empty before the first one.

        BookError where there is one that cannot be read: no save is begun from nothing then.
        """
        found = self.object(self._head_in_files() or "HEAD")[0]
        if not found and (self.private / self.branch()).exists():
            raise could_not_read("HEAD", str(self.folder))
        return found

    def _head_in_files(self) -> str:
        """What HEAD and its branch say in files of their own; empty where git has to tell."""
        name = "HEAD"
        for _ in range(2):
            try:
                text = read_plain(self.private / name, MOST_LINE).decode("ascii", "replace")
            except OSError:  # in the list of packed branches, say
                return ""
            if _OID.fullmatch(text.strip()):
                return text.strip()
            found = _BRANCH.fullmatch(text)
            if found is None:
                return ""
            name = found[1]
        return ""

    def has_refs(self) -> bool:
        """Whether anything was ever saved here."""
        return bool(self.run("for-each-ref", "--count=1").strip())

    def branch(self) -> str:
        """Full name of the branch that HEAD is on. BookError where HEAD is on none."""
        try:
            text = read_plain(self.private / "HEAD", MOST_LINE).decode("utf-8", "replace").strip()
        except OSError as error:
            hint = "Nothing was changed. Try again; if it stays so, look at the disk."
            raise disk_refused(error, self.private / "HEAD", hint) from error
        if not text.startswith("ref: refs/heads/"):
            raise BookError(
                "the book's history is on no branch",
                where=str(self.folder),
                hint="Somebody looked at an old commit here; `git switch main` goes back.",
            )
        return text.removeprefix("ref: ")

    def object(self, name: str) -> tuple[str, bytes]:
        """(id, bytes) of one object by id or name; ("", b"") where there is none.

        No object has a name that git would take for an option, or for two.
        """
        if not _NAME.fullmatch(name):
            return "", b""
        with self._lock:
            known = self._commits.get(name)
            if known is not None:
                return known
            self._pipe.ask([name])
            found = self._pipe.take()
            if found[0] == name and found[1].startswith(b"tree ") and len(found[1]) <= _SMALL:
                if len(self._commits) >= _MOST_COMMITS:
                    self._commits.clear()
                self._commits[name] = found
        if not found[0]:
            stop_if_object_hidden(self.folder, name)
        return found

    def objects(self, names: Sequence[str]) -> list[tuple[str, bytes]]:
        """The same for a few at once, in their order."""
        with self._lock:
            self._pipe.ask(names)
            try:
                return [self._pipe.take() for _ in names]
            except BookError:
                self._pipe.close()  # the rest would answer the next question
                raise

    def blob(self, oid: str) -> bytes:
        """Bytes of one object. BookError where the repository lost it."""
        found, data = self.object(oid)
        if not found:
            raise missing(oid, str(self.folder))
        return data

    def raw_commit(self, oid: str) -> RawCommit:
        """One commit, read from its own bytes."""
        return read_commit(oid, self.blob(oid))

    def tree(self, commit: str) -> Files:
        """Blob ids of a commit by path; of none where no commit is named. Links and sub-projects
        are left out.

        BookError where the commit cannot be had: nothing is taken for empty that is not.
        """
        return Files(self._trees, self._root_of(commit) if commit else "")

    def trees(self, commits: Sequence[str]) -> list[Files]:
        """The same of many at once, their commits and topmost trees read together."""
        found = []
        for n in range(0, len(commits), _AT_ONCE):
            some = commits[n : n + _AT_ONCE]
            roots = [tree_of(data) for _, data in self.objects(some)]
            self._trees.fetch(roots, self.objects)
            found += [
                Files(self._trees, root) if root else self.tree(commit)
                for commit, root in zip(some, roots, strict=True)
            ]
        return found

    def tree_if_any(self, commit: str) -> Files:
        """The same of a commit that may be gone for good: empty then. Nothing is saved on it."""
        return Files(self._trees, self._trees.root_of(commit) if commit else "")

    def _root_of(self, commit: str) -> str:
        root = self._trees.root_of(commit)
        if not root:
            raise missing(commit, str(self.folder))
        return root

    def blob_at(self, commit: str, path: str) -> str:
        """Id of what lies at a path in a commit; empty where nothing does."""
        return self.tree(commit).get(path, "")

    # writing

    def write_blob(self, data: bytes) -> str:
        """Store bytes as they are; their id. Flushed when this returns."""
        return self._objects.write(b"blob", data)

    def storing(self) -> AbstractContextManager[None]:
        """Let all objects that this thread writes in here be flushed at once, when it ends."""
        return self._objects.storing()

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
        root = self._root_of(parent) if parent else ""
        tree = self._objects.tree_with(root, blobs)
        parents = [one for one in (parent, *more) if one]
        return self._objects.write(b"commit", write_commit(tree, parents, person, message))

    @contextmanager
    def about_to_move(self) -> Iterator[None]:
        """Start the git that `move` needs, so that it is there by then; it does nothing before
        it is told what, and nothing where it is told half."""
        self._kept.mover = mover = self.start(_MOVE, handles=self._handles())
        try:
            yield
        finally:
            self._kept.mover = None
            end(mover)

    def move(self, branch: str, new: str, old: str) -> bool:
        """Let a branch point at `new` if it still points at `old`; False if it does not."""
        mover, self._kept.mover = getattr(self._kept, "mover", None), None
        try:
            mover = mover or self.start(_MOVE, handles=self._handles())
            told = f"update {branch}\0{new}\0{old or '0' * len(new)}\0"
            self._answer(_MOVE[0], mover, told.encode())
        except BookError:
            now = self.head()
            if now == old:
                raise
            if now != new:  # a git that was killed at its very end did move it
                return False
        try:
            flush((self.private / branch).parent)
        except OSError as error:
            raise BookError(
                f"the save is in the history, but the disk did not confirm it: {error.strerror}",
                where=str(self.folder),
                hint="A power cut could take it back. Look at the disk, then open the book again.",
            ) from error
        return True

    def is_ancestor(self, older: str, newer: str) -> bool:
        """Whether `older` is in the past of `newer` (or is it); never, for what is no id."""
        if not (_OID.fullmatch(older) and _OID.fullmatch(newer)):
            return False
        if older == newer or f"parent {older}".encode() in self.object(newer)[1].split(b"\n\n")[0]:
            return True  # no walk for the step that every save makes
        return not self.run("rev-list", "-1", older, f"^{newer}", "--").strip()

    def merge_bases(self, one: str, other: str) -> list[str]:
        """The newest commits that two have in common; more than one where merges crossed.

        BookError where git cannot tell: two sides of one past are never taken for strangers.
        """
        return self.run("merge-base", "--all", one, other, none=1).decode().split()

    def commits(self, head: str, *without: str, path: str = "") -> list[str]:
        """Commits in the past of `head` and not in that of the others, newest first.

        With a path, those that changed what lies there.
        """
        not_these = [f"^{commit}" for commit in without if commit]
        words = [*(["--full-history"] if path else []), head, *not_these, "--", path]
        return self.run("rev-list", "--topo-order", *filter(None, words)).decode().split()

    def commits_beginning(self, prefix: str) -> list[str]:
        """Commits of any branch, or of none, whose id begins so; at least four digits."""
        if not _DIGITS.fullmatch(prefix):
            return []
        found = self.run("rev-parse", f"--disambiguate={prefix}").decode().split()
        return [oid for oid in found if self.object(f"{oid}^{{commit}}")[0] == oid]

    def config(self, file: Path) -> dict[str, str]:
        """A repository's own configuration, nothing included; of a repeated key the last."""
        words = ("--file", str(file), "--no-includes", "--list", "-z")
        listed = self.run("config", *words).decode("utf-8", "replace")
        pairs = (entry.partition("\n") for entry in listed.split("\0") if entry)
        return {key: value for key, _, value in pairs}

    def folders(self) -> list[Path]:
        """The private folders in which whoever may write can change the past."""
        names = ("objects", "refs", "refs/heads", "witnessmark")
        return [self.private, *(self.private / name for name in names)]

    def close(self) -> None:
        """End the process that reads objects; the next read starts a new one."""
        with self._lock:
            self._pipe.close()


def create(folder: Path, shared: str = "") -> None:
    """Make a new repository in a folder, on the branch `main`, without any template.

    `shared` is what core.sharedRepository shall say, if anything. It is there whole or not at
    all. BookError where git cannot make it, OSError where the disk refuses.
    """
    forget_inherited()
    for left in folder.glob(f"{_BEGUN}*"):  # by a start that was killed
        rmtree(left, ignore_errors=True)
    if (folder / ".git").is_dir():  # a repository without any history: it is gone on with
        _create(folder, shared)
        return flush(folder)
    draft = folder / f"{_BEGUN}{secrets.token_hex(4)}"
    draft.mkdir()
    try:
        _create(draft, shared)
        (draft / ".git").rename(folder / ".git")
    finally:
        rmtree(draft, ignore_errors=True)
    flush(folder)


def _create(folder: Path, shared: str) -> None:
    door = Door(str(folder))
    words = ["git", "init", "-q", "--template=", "--initial-branch=main"]
    words += [f"--shared={shared}"] if shared else []
    executed(door, [*words, "."], env=dict(ENVIRONMENT))
    mode = ["git", "config", "--file", ".git/config", "core.fileMode", "false"]
    executed(door, mode, env=dict(ENVIRONMENT))  # a program from a stick is executable: no change
    for path in [*(folder / ".git").rglob("*"), folder / ".git"]:
        flush(path)
