"""A book that could run something, or show a false past, is not opened.

A repository's own configuration can name commands; replace objects, shallow
borders and borrowed object stores can change what history says. Opening one
stops before git has looked at any of it. The keys below are the only ones that
a book may set; none of them runs anything for the verbs in `git.py`.
"""

from __future__ import annotations

import errno
import os
import re
import stat
from pathlib import Path

import platformdirs

from engine.repo.accounts import account_name
from engine.repo.door import check_git
from engine.repo.git import MOST_LINE, Git
from engine.repo.private import read_plain, stop_if_odd
from schemas.errors import BookError

_KEYS = re.compile(
    r"core\.(repositoryformatversion|filemode|bare|logallrefupdates|ignorecase|precomposeunicode"
    r"|symlinks|sharedrepository)"
    r"|extensions\.objectformat|init\.defaultbranch|user\.(name|email)"
    r"|remote\..+\.(url|fetch|push|tagopt)|branch\..+\.(remote|merge|rebase)"
    r"|(transfer|receive|fetch)\.fsckobjects"
    r"|gc\.(auto|autopacklimit|autodetach)|receive\.deny(nonfastforwards|deletes|currentbranch)"
    r"|pull\.(rebase|ff)|push\.default|merge\.(ff|conflictstyle)"
)


def check_repository(folder: Path) -> None:
    """BookError with the reason where a folder is no book that is safe to open."""
    _check_kind(folder)
    private = folder / ".git"
    _check_owner(private)
    _check_plain(private)
    _check_past(private)
    check_git()
    strange = strange_keys(Git(folder), private / "config")
    if strange:
        raise BookError(
            f"the book's git configuration sets {', '.join(strange[:3])}",
            where=str(private / "config"),
            hint="It could run commands. Look at it, and take it out if nobody needs it.",
        )


def _check_kind(folder: Path) -> None:
    """BookError where a folder is no book with a history of its own."""
    private = folder / ".git"
    if not folder.is_dir():
        raise BookError(
            "there is no such folder",
            where=str(folder),
            hint="Name the book's folder with --book DIR.",
        )
    if not (folder / "book.toml").exists() and not private.exists():
        raise BookError(
            "this folder is no book",
            where=str(folder),
            hint="Name one with --book DIR, start one with `witnessmark init DIR`, "
            "or look at the demo with `witnessmark demo`.",
        )
    if private.is_symlink() or not private.is_dir():
        raise BookError(
            "the book has no history of its own",
            where=str(folder),
            hint="`witnessmark init DIR` starts one and keeps the files that are here.",
        )


def strange_keys(git: Git, config: Path) -> list[str]:
    """Keys of a repository's configuration that no book and no meeting point may set."""
    return sorted(key for key in git.config(config) if not _KEYS.fullmatch(key))


def _check_owner(private: Path) -> None:
    owner = private.stat().st_uid
    if owner != os.getuid() and str(private.parent.resolve()) not in trusted():
        raise BookError(
            f"the book belongs to another account, {account_name(owner)}",
            where=str(private.parent),
            hint=f"If that account is known to you: `witnessmark trust {private.parent}`, once.",
        )


def _check_plain(private: Path) -> None:
    """BookError where something else lies in the place of what git reads: a link, a named pipe."""
    refs = ["refs", "refs/heads"]
    try:
        branch = read_plain(private / "HEAD", MOST_LINE).decode("utf-8", "replace").strip()
        if "\0" in branch:
            raise BookError(
                "HEAD of the book's history holds what is no name",
                where=str(private / "HEAD"),
                hint="`git symbolic-ref HEAD refs/heads/main` in the book's folder puts it right.",
            )
        named = branch.removeprefix("ref: ").split("/")
        refs += ["/".join(named[: n + 1]) for n in range(2, len(named) - 1)]
        here = "/".join(named)
        logs = ("logs", *(f"logs/{ref}" for ref in refs))  # git goes on writing what is in them
        for name in ("config", "packed-refs", "index", here, "logs/HEAD", f"logs/{here}"):
            if ".." not in named:
                stop_if_odd(private / name, stat.S_ISREG)
        for name in ("objects", "objects/info", "objects/pack", *refs, *logs):
            stop_if_odd(private / name, stat.S_ISDIR)
    except FileNotFoundError as error:
        raise BookError(
            f"{Path(str(error.filename)).name} is missing from the book's history",
            where=str(private),
            hint="Take the history from another copy of the book.",
        ) from error
    except OSError as error:
        raise BookError(
            f"what git reads cannot be read: {error.strerror}",
            where=str(error.filename or private),
            hint="Something else put it there. Look at it, and make a clone of the book elsewhere.",
        ) from error


def _check_past(private: Path) -> None:
    replaced = private / "refs" / "replace"
    packed = private / "packed-refs"
    signs = {
        "it borrows objects from elsewhere": (private / "objects/info/alternates").exists(),
        "its past was cut off": (private / "shallow").exists(),
        "it replaces old objects by others": (replaced.is_dir() and any(replaced.iterdir()))
        or (packed.exists() and b" refs/replace/" in packed.read_bytes()),
        "its past was grafted": (private / "info/grafts").exists(),
        "its private folder is a link": (private / "witnessmark").is_symlink(),
        "it is a part of another repository": (private / "commondir").exists(),
    }
    for what, found in signs.items():
        if found:
            raise BookError(
                f"the book's history may not be whole: {what}",
                where=str(private),
                hint="Make a full clone of the book and open that.",
            )


def _trust_file() -> Path:
    return platformdirs.user_config_path("witnessmark") / "trusted-books"


def trusted() -> set[str]:
    """Folders of books of other accounts that this account has named as trusted.

    None where the list is not this account's own: after `su`, HOME may be another's.
    """
    file = _trust_file()
    try:
        if file.stat().st_uid == os.geteuid() and file.is_absolute():
            return set(file.read_text(encoding="utf-8", errors="replace").splitlines())
    except OSError:
        pass
    return set()


def trust(folder: Path) -> Path:
    """Name a book of another account as trusted; the file that remembers it.

    BookError where there is no such folder, or nowhere to remember it.
    """
    file = _trust_file()
    if not os.path.lexists(folder):
        raise BookError("there is no such folder", where=str(folder), hint="Name the book's.")
    names = sorted(trusted() | {str(folder.resolve())})
    try:
        if not file.is_absolute():
            raise OSError(errno.ENOENT, "this account has no home")
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.exists() and file.stat().st_uid != os.geteuid():
            raise OSError(errno.EPERM, "it is another account's")
        file.write_text("\n".join(names) + "\n", encoding="utf-8")
    except OSError as error:
        raise BookError(
            f"what you trust cannot be remembered: {error.strerror}",
            where=str(file),
            hint="Set HOME to a folder of your own account, and try again.",
        ) from error
    return file
