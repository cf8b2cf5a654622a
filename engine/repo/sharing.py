"""The rights of what is made in a repository: as its core.sharedRepository says, as git has it.

`group` adds reading and writing for the group, `all` reading for everybody as well, an
octal number like 0640 stands in place of what the mask left; anything else leaves it to
the mask. Folders of a shared repository hand their group on (setgid). Git does so for what
it makes in its own folder; here the same holds for every other file of the book, those of
the work tree included, or the first to save would lock the others out.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

_GROUP, _ALL = 0o660, 0o664
_WORDS = {
    **dict.fromkeys(("group", "true", "yes", "on", "1"), _GROUP),
    **dict.fromkeys(("all", "world", "everybody", "2"), _ALL),
}


@dataclass(frozen=True, slots=True)
class Sharing:
    """Bits that are added to what the mask leaves; `instead` of it for an octal number."""

    bits: int = 0
    instead: bool = False

    def __bool__(self) -> bool:
        return self.bits != 0

    def rights(self, mode: int) -> int:
        """The whole mode that a file or folder with this one gets."""
        if not self.bits:
            return stat.S_IMODE(mode)
        tweak = self.bits if mode & stat.S_IWUSR else self.bits & ~0o222
        if stat.S_ISDIR(mode) or mode & stat.S_IXUSR:
            tweak |= (tweak & 0o444) >> 2
        kept = stat.S_IMODE(mode) & (~0o777 if self.instead else ~0)
        made = kept | tweak
        if stat.S_ISDIR(mode) and made & 0o060:
            made |= stat.S_ISGID
        return made


def read_sharing(value: str) -> Sharing | None:
    """What a value of core.sharedRepository means; None for one that git does not take."""
    value = value.strip().lower()
    if value in _WORDS:
        return Sharing(_WORDS[value])
    try:
        number = int(value, 8)
    except ValueError:
        return Sharing() if value in ("", "umask", "false", "no", "off") else None
    if number in (0, 1, 2):
        return Sharing((0, _GROUP, _ALL)[number])
    return Sharing(number & 0o666, instead=True) if number & 0o600 == 0o600 else None


def sharing_of(path: Path) -> Sharing:
    """The sharing of the repository in which a path lies; none where it lies in none."""
    for above in (path, *path.parents):
        config = above / ".git" / "config"
        if above.name == ".git" or (above / "HEAD").is_file():
            config = above / "config"
        try:
            if not config.is_file():  # a named pipe would hold everybody up
                continue
            text = config.read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
        return read_sharing(_setting(text)) or Sharing()
    return Sharing()


def _setting(config: str) -> str:
    """The value of core.sharedRepository in a configuration that includes nothing."""
    section, found = "", ""
    for line in config.splitlines():
        text = line.strip()
        if text.startswith("["):
            section = text.partition("]")[0].strip("[ ").lower()
            text = text.partition("]")[2].strip()
        key, equals, value = text.partition("=")
        if section == "core" and key.strip().lower() == "sharedrepository":
            value = value.partition("#")[0].partition(";")[0]
            found = value.strip().strip('"') if equals else "true"
    return found


def settle(path: Path | int, sharing: Sharing) -> None:
    """Give a file or folder of this account its rights; another account's is left."""
    if not sharing:
        return
    status = os.fstat(path) if isinstance(path, int) else os.lstat(path)
    wanted = sharing.rights(status.st_mode)
    if wanted != stat.S_IMODE(status.st_mode) and not stat.S_ISLNK(status.st_mode):
        with suppress(PermissionError):
            os.chmod(path, wanted)  # noqa: PTH101 - of an open file, too


def open_file(path: Path, flags: int) -> int:
    """Open a file of a repository, made with its rights where it is not there yet."""
    handle = os.open(path, flags | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o666)
    try:
        if os.fstat(handle).st_uid == os.geteuid():
            settle(handle, sharing_of(path))
    except BaseException:
        os.close(handle)
        raise
    return handle
