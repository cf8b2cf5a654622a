"""The verbs that reach another repository: fetch, push, and a look at one branch.

Two ways lead there, by name: a folder and ssh. Nothing of the other side runs
here: a folder's hooks and configuration are switched off or looked at before,
ssh never asks and never lends an agent. Every object that comes in is checked;
of the other side's refs only the one branch is ever looked at.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from engine.repo.accounts import account_name
from engine.repo.durable import flush
from engine.repo.git import Git
from engine.repo.locks_there import LOCK, lock_in_words, unlock
from engine.repo.rights import is_denied, no_right_to_write, stop_if_hidden
from engine.repo.safety import strange_keys, trusted
from schemas.errors import BookError, Refused, UsageError

_SETTINGS = (
    *("-c", "protocol.allow=never", "-c", "protocol.file.allow=always"),
    *("-c", "protocol.ssh.allow=always", "-c", "transfer.fsckObjects=true"),
    *("-c", "fetch.fsckObjects=true", "-c", "submodule.recurse=false"),
    *("-c", "push.gpgSign=false", "-c", "push.followTags=false"),
)
_TRANSPORTS = {
    "GIT_ALLOW_PROTOCOL": "file:ssh",
    "GIT_SSH_VARIANT": "ssh",
    "GIT_SSH_COMMAND": "ssh -o BatchMode=yes -o ConnectTimeout=15 -o ServerAliveInterval=10 "
    "-o ServerAliveCountMax=3 -o ForwardAgent=no -o PermitLocalCommand=no",
}
# What a folder's own end of the line may not do: run hooks, tidy up, ask its configuration.
_QUIET = (
    "git -c core.hooksPath=/dev/null -c core.fsmonitor=false "
    "-c receive.autogc=false -c gc.auto=0 -c maintenance.auto=false "
    "-c receive.denyCurrentBranch=refuse -c receive.denyNonFastForwards=true "
    "-c receive.denyDeletes=true -c transfer.fsckObjects=true -c receive.fsckObjects=true "
    "-c core.fsync=all -c core.fsyncMethod=fsync -c safe.directory=*"
)
_LOCK_LEFT = re.compile(r"Unable to create '([^']+\.lock)': File exists")
_HOST = r"(?:[A-Za-z0-9_][A-Za-z0-9_.-]*@)?(?:[A-Za-z0-9][A-Za-z0-9.-]*|\[[0-9A-Fa-f:.]+\])"
_SSH_URL = re.compile(rf"ssh://{_HOST}(?::\d{{1,5}})?/[^\s'\"\\]+")
_SSH_SHORT = re.compile(rf"{_HOST}:(?![/-]?/)[^\s'\"\\:-][^\s'\"\\]*|{_HOST}:/[^\s'\"\\]+")


@dataclass(frozen=True, slots=True)
class Remote:
    """Another repository: as git wants it named, and the folder where it is one."""

    address: str
    folder: Path | None = None

    def branches(self, git: Git) -> list[str]:
        """Names of the branches there."""
        found = self._run(git, "ls-remote", ["--heads"], "upload-pack", "refs/heads/*")
        names = [line.split()[-1] for line in found.decode("utf-8", "replace").splitlines()]
        return [name.removeprefix("refs/heads/") for name in names]

    def fetch(self, git: Git, branch: str, into: str) -> None:
        """Bring one branch into a ref of ours, and nothing else."""
        words = ["--no-tags", "--no-write-fetch-head", "--no-recurse-submodules", "--refmap="]
        words += ["--no-auto-maintenance", "--no-show-forced-updates", "--quiet"]
        self._run(git, "fetch", words, "upload-pack", f"+{branch}:{into}")

    def push(self, git: Git, commit: str, branch: str) -> None:
        """Let the branch there go forward to a commit, flushed to its disk where it is a folder."""
        words = ["--no-recurse-submodules", "--no-verify", "--quiet"]
        try:
            self._run(git, "push", words, "receive-pack", f"{commit}:{branch}")
        except BookError as error:
            if not (self.folder and LOCK in error.what and unlock(self.folder, branch)):
                raise
            self._run(git, "push", words, "receive-pack", f"{commit}:{branch}")
        if self.folder:
            with suppress(OSError):
                flush((_private(self.folder) / branch).parent)

    def _run(self, git: Git, verb: str, words: list[str], end: str, what: str) -> bytes:
        """One verb; `end` is the program at the other end of the line."""
        if self.folder:
            check_folder(git, self.folder)
            words = [*words, f"--{end}={_QUIET} {end}"]
        where = ("--", self.address, what)
        try:
            return git.run(*_SETTINGS, verb, *words, *where, environment=_TRANSPORTS)
        except BookError as error:
            raise BookError(
                self._why(error.what),
                where=self.address,
                hint="What is inked here is safe, and goes with the next sync that gets there.",
            ) from error

    def _why(self, said: str) -> str:
        """What went wrong there, in words: whose right is missing, or which lock was left."""
        if self.folder is None:
            return _in_words(said)
        if is_denied(said):
            refusal = no_right_to_write(_closed(self.folder), self.folder)
            return f"{refusal.where}: {refusal.what}. {refusal.hint}"
        lock = _LOCK_LEFT.search(said)
        return lock_in_words(Path(lock[1])) if lock else _in_words(said)


def _closed(folder: Path) -> Path:
    """The first place of a repository to which this account may not write."""
    for name in ("objects", "refs/heads", "."):
        if not os.access(folder / name, os.W_OK):
            return folder / name
    return next((each for each in sorted((folder / "objects").iterdir())
                 if not os.access(each, os.W_OK)), folder)  # fmt: skip


def read_address(text: str, beside: Path) -> Remote:
    """A folder (relative to `beside`), ssh://… or user@host:path. UsageError for other ways."""
    hint = "Name a folder (mounted, or on a stick), or ssh://user@host/path/to/book.git."
    if text.startswith("file://"):
        text = text.removeprefix("file://")
    if any(sign in text for sign in "\0\n\r'\"\\") or text.startswith("-") or not text.strip():
        raise UsageError(f"{text!r} is no place to meet", hint=hint)
    if _SSH_URL.fullmatch(text) and "/-" not in text:
        return Remote(text)
    if "://" in text or "::" in text:
        way = text.partition(":")[0]
        raise UsageError(f"books meet over ssh or in a folder, not by {way}", hint=hint)
    folder = (beside / text).expanduser()
    if ":" in text.partition("/")[0] and not folder.exists():
        if _SSH_SHORT.fullmatch(text):
            return Remote(text)
        raise UsageError(f"{text!r} is no place to meet", hint=hint)
    return Remote(str(Path(os.path.normpath(folder.absolute()))), folder.absolute())


def _in_words(said: str) -> str:
    """What git and ssh said, without what they always say."""
    lines = [line.strip() for line in said.partition(" failed: ")[2].split("\n")]
    empty = (
        "",
        "Please make sure you have the correct access rights",
        "and the repository exists.",
    )
    text = "; ".join(line.removeprefix("fatal: ") for line in lines if line not in empty)
    if "Host key verification failed" in text:
        text += "; connect once by hand with ssh, and compare the key"
    return text or said


def check_folder(git: Git, folder: Path) -> None:
    """BookError where nothing can be met there; Refused where it is not safe to talk to."""
    stop_if_hidden(folder)
    if not folder.is_dir():
        raise BookError(
            "the folder is not there",
            where=str(folder),
            hint=f"Mount it, or make it once: git init --bare --initial-branch=main {folder}",
        )
    _check_kind(folder)
    _check_safety(git, folder)


def _check_kind(folder: Path) -> None:
    """Refused where a folder is no bare repository."""
    if _private(folder) != folder:
        raise Refused(
            "this folder is a box's own book, and nobody may change that from outside",
            where=str(folder),
            hint="Make a folder to meet in: git init --bare --initial-branch=main FOLDER",
        )
    if not (folder / "HEAD").is_file() or not (folder / "objects").is_dir():
        raise Refused(
            "this folder is no meeting point",
            where=str(folder),
            hint=f"Make one: git init --bare --initial-branch=main {folder}",
        )


def _check_safety(git: Git, folder: Path) -> None:
    """Refused where a bare repository could run something here, or show a false past."""
    strange = strange_keys(git, folder / "config")
    if strange:
        raise Refused(
            f"the meeting point's configuration sets {', '.join(strange[:3])}",
            where=str(folder / "config"),
            hint="It could run commands here. Look at it, and take it out if nobody needs it.",
        )
    if (folder / "objects/info/alternates").exists() or (folder / "shallow").exists():
        raise Refused(
            "the meeting point's history may not be whole",
            where=str(folder),
            hint="Make a new bare one, and sync with that.",
        )
    owner = folder.stat().st_uid
    if owner != os.getuid() and str(folder.resolve()) not in trusted():
        raise Refused(
            f"the meeting point belongs to another account, {account_name(owner)}",
            where=str(folder),
            hint=f"If that account is known to you: `witnessmark trust {folder}`, once.",
        )


def _private(folder: Path) -> Path:
    """Where a repository keeps its history: in itself where it is bare."""
    inner = folder / ".git"
    return inner if inner.is_dir() else folder
