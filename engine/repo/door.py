"""GitPython's door to the processes of git, imported so that no environment steers it.

GitPython looks at git while it is imported: without git it ends the program, and a
variable may name another program for it to run. So every GIT_ variable of the caller is
dropped before, and it is told to look at nothing. `git.py` alone runs git through it.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from functools import cache
from typing import Any

from schemas.errors import BookError

__all__ = ["ENVIRONMENT", "Door", "check_git", "executed", "forget_inherited"]

QUIET = "GIT_PYTHON_REFRESH"


def forget_inherited() -> None:
    """Drop every GIT_ variable of the caller: none may steer a book's git."""
    for name in [name for name in os.environ if name.startswith("GIT_")]:
        del os.environ[name]


forget_inherited()
os.environ[QUIET] = "quiet"

from git.cmd import Git as Door  # noqa: E402  what stands above is for this import
from git.exc import GitCommandError, GitCommandNotFound  # noqa: E402

del os.environ[QUIET]

ENVIRONMENT = {
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


OLDEST = (2, 36)  # the first that flushes what it is told to (core.fsync)
_INSTALL = "Install the package git (`apt install git`, `dnf install git`), and try again."


def check_git() -> None:
    """BookError where there is no git on this machine, or one that is too old to keep a save."""
    forget_inherited()
    _check_git(os.environ.get("PATH", ""))


@cache
def _check_git(_path: str) -> None:
    """The same, asked once for each path on which git is looked for."""
    said = executed(Door(), ["git", "version"], env=dict(ENVIRONMENT))
    number = re.search(r"\b(\d{1,4})\.(\d{1,4})", str(said))
    if number is None or (int(number[1]), int(number[2])) < OLDEST:
        least = ".".join(map(str, OLDEST))
        raise BookError(
            f"this program needs git {least} or newer, and this machine says {str(said)[:60]!r}",
            hint=f"An older one does not keep a save through a power cut. {_INSTALL}",
        )


def executed(door: Door, command: Sequence[str], **named: Any) -> Any:
    """What a command answers, or the process. BookError where there is no git, or it fails."""
    try:
        return door.execute(command, **named)
    except GitCommandNotFound as error:
        raise BookError("git is not on this machine, or not on the path", hint=_INSTALL) from error
    except GitCommandError as error:
        said = " ".join(str(error.stderr or error).split())[:300]
        hint = "Nothing was begun. Look at space and rights, then try again."
        raise BookError(f"git {command[1]} failed: {said}", hint=hint) from error
