"""Files of the private folder, opened so that nobody is led elsewhere or kept waiting.

Invariant: no part of a name below the private folder is followed where it is a link, only
regular files are opened, a named pipe or a device holds nobody up, and no more is read
than such a file ever has. Whoever can write there can put anything in a file's place: it
is told as an `OddFile`, taken aside under a name of its own by whom it keeps from work,
and never deleted.
"""

from __future__ import annotations

import errno
import json
import os
import secrets
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from engine.repo.durable import flush, make_folders
from engine.repo.sharing import settle, sharing_of
from engine.repo.work_tree import replace

MOST_BYTES = 64_000_000  # of a journal of years; whatever else lies here is far smaller
MOST_NOTE_BYTES = 16_000_000  # of one note: of a save, of a meeting point
ASIDE = "aside"
_FILE, _FOLDER = 0o666, 0o777  # what the mask leaves of them, and the book's sharing adds
_KINDS = (
    (stat.S_ISLNK, "a link"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISREG, "a file"),
)
_LED_ELSEWHERE = (errno.ELOOP, errno.ENOTDIR, errno.EISDIR, errno.ENXIO)


class OddFile(OSError):
    """Something else lies where a private file or folder belongs; `odd` is its name."""

    def __init__(self, what: str, root: Path, odd: str) -> None:
        super().__init__(errno.EINVAL, what, str(root / odd))
        self.odd = odd


def open_private(root: Path, name: str, flags: int, *, make: bool = False) -> int:
    """A handle of a regular file below the private folder; with `make` it and its folders are
    made where they are missing, with the rights that the book gives.

    FileNotFoundError where there is none, OddFile where something else lies there.
    """
    *folders, last = name.split("/")
    flags |= os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC | (os.O_CREAT if make else 0)
    with _folder(root, folders, make=make) as (here, _):
        try:
            handle = os.open(last, flags, _FILE, dir_fd=here)
        except OSError as error:
            raise _odd(error, here, root, name) from error
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            os.close(handle)
            raise OddFile(f"it is {_kind(status.st_mode)}", root, name)
        if make and status.st_uid == os.geteuid():
            settle(handle, sharing_of(root))
        return handle


@contextmanager
def _folder(root: Path, names: list[str], *, make: bool = False) -> Iterator[tuple[int, str]]:
    """A handle of a folder below the private folder, and its name, step by step."""
    flags = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
    if make:
        try:
            make_folders(root)
        except FileExistsError as error:
            raise OddFile(f"it is {_kind(root.lstat().st_mode)}", root.parent, root.name) from error
    here, name = os.open(root, flags), ""
    try:
        for part in names:
            name = f"{name}/{part}" if name else part
            made = make and _made(part, here, root, name)
            try:
                below = os.open(part, flags, dir_fd=here)
            except OSError as error:
                raise _odd(error, here, root, name) from error
            os.close(here)
            here = below
            if made:
                settle(here, sharing_of(root))
        yield here, name
    finally:
        os.close(here)


def _made(part: str, here: int, root: Path, name: str) -> bool:
    """Make a folder below a handle; False where something is there already."""
    try:
        os.mkdir(part, _FOLDER, dir_fd=here)
    except FileExistsError:
        return False
    except OSError as error:
        raise _odd(error, here, root, name) from error
    return True


def _odd(error: OSError, here: int, root: Path, name: str) -> OSError:
    """What an error says, in the end: that something else lies there, or the error itself."""
    if error.errno in _LED_ELSEWHERE:
        with suppress(OSError):
            last = name.rpartition("/")[2]
            mode = os.stat(last, dir_fd=here, follow_symlinks=False).st_mode
            return OddFile(f"it is {_kind(mode)}", root, name)
    error.filename = str(root / name)
    return error


def _kind(mode: int) -> str:
    return next((what for is_kind, what in _KINDS if is_kind(mode)), "no file")


def read_private(root: Path, name: str, most: int = MOST_NOTE_BYTES) -> bytes | None:
    """Bytes of a private file, None where there is none. OSError where they cannot be had."""
    try:
        handle = open_private(root, name, os.O_RDONLY)
    except FileNotFoundError:
        return None
    with os.fdopen(handle, "rb") as file:
        size = os.fstat(handle).st_size
        if size > most:
            raise OddFile(
                f"it has {size:,} bytes, and none ever has more than {most:,}", root, name
            )
        return file.read(most)


def write_private(root: Path, name: str, data: bytes) -> None:
    """Put bytes in place, durably; what else lies there is taken aside. OSError where not."""
    *folders, _ = name.split("/")
    with _folder(root, folders, make=True):
        pass
    if not is_plain(root, name):
        put_aside(root, name)
    replace(root / name, data)


def is_plain(root: Path, name: str) -> bool:
    """Whether a regular file lies there, or nothing."""
    try:
        return stat.S_ISREG((root / name).lstat().st_mode)
    except FileNotFoundError:
        return True


def read_plain(file: Path, most: int) -> bytes:
    """Bytes of a regular file that is no link, at most so many. OSError where not to be had."""
    handle = os.open(file, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    with os.fdopen(handle, "rb") as opened:
        mode = os.fstat(handle).st_mode
        if not stat.S_ISREG(mode):
            raise OddFile(f"it is {_kind(mode)}", file.parent, file.name)
        return opened.read(most)


def stop_if_odd(path: Path, is_kind: Callable[[int], bool]) -> None:
    """OddFile where something of another kind lies there; nothing is no harm."""
    with suppress(FileNotFoundError):
        mode = path.lstat().st_mode
        if not is_kind(mode):
            raise OddFile(f"it is {_kind(mode)}", path.parent, path.name)


def put_aside(root: Path, name: str) -> str:
    """Move what lies at a name out of the way, whatever it is; its new name."""
    kept = _free_name(name)
    with _folder(root, [ASIDE], make=True):
        (root / name).rename(root / kept)
    flush(root / ASIDE)
    return kept


def keep_aside(root: Path, name: str, data: bytes) -> str:
    """Write down in the aside folder what was taken out of a file; its name."""
    kept = _free_name(name)
    write_private(root, kept, data)
    return kept


def _free_name(name: str) -> str:
    stamp = f"{time.strftime('%Y%m%d-%H%M%S')}-{secrets.token_hex(2)}"
    return f"{ASIDE}/{stamp}-{name.replace('/', '-')}"


def listed(root: Path, folder: str) -> list[tuple[str, int]]:
    """Names in a private folder with their modes, in order; nothing where there is none.

    OddFile where something else lies in its place.
    """
    try:
        with _folder(root, folder.split("/")) as (here, _):
            found = []
            for name in sorted(os.listdir(here)):  # noqa: PTH208 - of the very folder that was opened
                with suppress(FileNotFoundError):
                    status = os.stat(name, dir_fd=here, follow_symlinks=False)
                    found.append((name, status.st_mode))
            return found
    except FileNotFoundError:
        return []


def read_note(data: bytes) -> Any:
    """JSON that this program wrote. ValueError for all else: depth, names twice, no number,
    text that cannot be written again."""
    try:
        text = data.decode("utf-8")
        made = json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    if "\\ud" in text or "\\uD" in text:  # half a sign: it could not be written down again
        try:
            json.dumps(made, ensure_ascii=False).encode("utf-8")
        except UnicodeEncodeError:
            raise ValueError("half a sign") from None
    return made


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice")
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")
