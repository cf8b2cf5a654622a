"""Unexpected errors go to one file of this person: never to the screen, never into a pipe.

Invariant: writing it harms nobody. What stands in it steers no terminal that shows it
later; a link, a named pipe or a folder in its place is not followed; where it cannot be
written the program goes on without it.
"""

from __future__ import annotations

import logging
import os
import stat
from contextlib import suppress
from pathlib import Path

from tui.safe import spelt_out

MOST_BYTES = 4_000_000  # then it begins anew; the last one is kept beside it


def log_file() -> Path:
    """Where it is, or would be."""
    import platformdirs

    return platformdirs.user_log_path("witnessmark") / "witnessmark.log"


def particulars() -> str:
    """Where the last entry is, or why it is nowhere, in words: HOME may be another account's."""
    if _ErrorLog.refused:
        return f"{log_file()} cannot be written: {_ErrorLog.refused}."
    return f"The particulars are in {log_file()}"


def start_log() -> None:
    """Take in what any part of the program, or of a library, has to say from now on."""
    root = logging.getLogger()
    if not any(isinstance(handler, _ErrorLog) for handler in root.handlers):
        root.addHandler(_ErrorLog())


class _ErrorLog(logging.Handler):
    """Opens the file for each entry: they are rare, and nothing is held meanwhile."""

    refused = ""  # why the last entry could not be written

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.setFormatter(logging.Formatter("--- %(asctime)s %(levelname)s %(message)s"))

    def emit(self, record: logging.LogRecord) -> None:
        """Write one entry, if that can be done."""
        _ErrorLog.refused = ""
        try:
            lines = self.format(record).split("\n")
            text = "\n".join(spelt_out(line.replace("\t", "    ")) for line in lines) + "\n"
            _append(log_file(), text.encode())
        except (OSError, ValueError) as error:
            _ErrorLog.refused = getattr(error, "strerror", None) or str(error)


def _append(file: Path, data: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    with suppress(FileNotFoundError):
        if file.lstat().st_size > MOST_BYTES:
            file.replace(file.with_suffix(".old"))
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_NOFOLLOW | os.O_NONBLOCK
    handle = os.open(file, flags, 0o600)
    try:
        if stat.S_ISREG(os.fstat(handle).st_mode):
            os.write(handle, data)
    finally:
        os.close(handle)
