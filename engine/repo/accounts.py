"""Accounts of this machine, as the kernel knows them. The environment is never believed.

A process has its account from the kernel, by number; the name is that of the machine's
list of accounts. An account without a name (a container, a directory that cannot be
reached) is called by its number, and may be named so in people.toml: `number 1204`.
"""

from __future__ import annotations

import grp
import os
import pwd
from pathlib import Path

from schemas.errors import UsageError

_NOBODY_LOGGED_IN = 2**32 - 1  # what the kernel says where no login began the session
_NAMED_BY = ("LOGNAME", "USER", "LNAME", "USERNAME", "SUDO_USER")


def account_name(number: int) -> str:
    """The name of an account; `number 1204` where it has none."""
    try:
        return pwd.getpwuid(number).pw_name or f"number {number}"
    except (KeyError, OSError):
        return f"number {number}"


def group_name(number: int) -> str:
    """The name of a group; `number 1204` where it has none."""
    try:
        return grp.getgrgid(number).gr_name or f"number {number}"
    except (KeyError, OSError):
        return f"number {number}"


def group_number(name: str) -> int:
    """The number of a group by its name, or by itself. UsageError where there is none."""
    try:
        return int(name) if name.isdecimal() else grp.getgrnam(name).gr_gid
    except KeyError:
        hint = "`getent group` lists what there is; `id` shows yours."
        raise UsageError(f"this machine has no group {name!r}", hint=hint) from None


def current_login() -> str:
    """The account of this process."""
    return account_name(os.getuid())


def pointers() -> list[tuple[str, str]]:
    """What only points to another account, and by what: each can be set by whoever likes.

    The login of the session, which `su` and `sudo` keep, stands beside the variables: it
    says where a session began, not who is at the keys now.
    """
    said = [(name, os.environ.get(name, "")) for name in _NAMED_BY]
    said.append(("the session's login", _session_login()))
    return [(by, name) for by, name in said if name and name != current_login()]


def _session_login() -> str:
    try:
        number = int(Path("/proc/self/loginuid").read_text(encoding="ascii"))
    except (OSError, ValueError):
        return ""
    return "" if number == _NOBODY_LOGGED_IN else account_name(number)
