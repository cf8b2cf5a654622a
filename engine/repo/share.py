"""To share a book, or a meeting point, with other accounts: its owner's act.

Says it in core.sharedRepository, which git and this program follow from then on, and
puts the rights of what is there already in order: files of this account, links left as
they are. What belongs to another account is named; that account does the same.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from engine.repo.accounts import account_name, current_login, group_name, group_number
from engine.repo.git import Git
from engine.repo.rights import stop_if_hidden
from engine.repo.sharing import Sharing, read_sharing
from engine.views import Shared
from schemas.errors import NoRight, UsageError


def wanted_sharing(how: str) -> Sharing:
    """What a person asked for. UsageError where that shares nothing."""
    sharing = read_sharing(how)
    if not sharing:
        raise UsageError(
            f"{how!r} is no way to share a book",
            hint="group (others of the group read and write), all (everybody reads, too), or "
            "rights as git has them, 0640.",
        )
    return sharing


def share(folder: Path, how: str, group: str = "") -> Shared:
    """Share a repository from now on. NoRight where it is another account's."""
    sharing = wanted_sharing(how)
    folder = folder.resolve()
    stop_if_hidden(folder)
    private = folder / ".git" if (folder / ".git").is_dir() else folder
    if not all((private / name).is_file() for name in ("HEAD", "config")):
        raise UsageError(
            "this folder is neither a book nor a meeting point",
            where=str(folder),
            hint="Name one. `witnessmark init DIR --shared` starts a shared book.",
        )
    owner = private.stat().st_uid
    if owner != os.geteuid() and os.geteuid() != 0:
        raise NoRight(
            f"it belongs to {account_name(owner)}, not to {current_login()}",
            where=str(folder),
            hint=f"Let {account_name(owner)} run `witnessmark share {folder}`.",
        )
    number = group_number(group) if group else private.stat().st_gid
    _write_down(folder, private, how)
    changed, left = 0, []
    for path in _all_below(folder):
        done = _put_in_order(path, sharing, number)
        changed += done is True
        if done is None:
            status = path.lstat()
            left.append((path.relative_to(folder).as_posix(), account_name(status.st_uid)))
    closed = [str(above) for above in folder.parents if not _lets_through(above, number)]
    return Shared(str(folder), how, group_name(number), changed, tuple(left), tuple(closed))


def _write_down(folder: Path, private: Path, how: str) -> None:
    git = Git(folder)
    file = str(private / "config")
    git.run("config", "--file", file, "--replace-all", "core.sharedRepository", how)
    git.close()


def _all_below(folder: Path) -> Iterator[Path]:
    yield folder
    for top, folders, files in os.walk(folder):
        for name in (*folders, *files):
            yield Path(top) / name


def _put_in_order(path: Path, sharing: Sharing, group: int) -> bool | None:
    """Whether anything was changed; None where it should be and may not."""
    with suppress(FileNotFoundError):  # a save that goes on meanwhile
        status = path.lstat()
        if stat.S_ISLNK(status.st_mode):
            return False
        rights = sharing.rights(status.st_mode) & ~(0 if sharing.bits & 0o002 else 0o002)
        if status.st_gid == group and rights == stat.S_IMODE(status.st_mode):
            return False
        try:
            if status.st_gid != group:
                os.chown(path, -1, group, follow_symlinks=False)
            path.chmod(rights)
        except PermissionError:
            return None
        return True
    return False


def _lets_through(folder: Path, group: int) -> bool:
    """Whether members of a group come through a folder."""
    status = folder.stat()
    return bool(status.st_mode & (stat.S_IXGRP if status.st_gid == group else stat.S_IXOTH))
