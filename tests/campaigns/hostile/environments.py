"""Environments that steer git, Python or the terminal elsewhere. A new interpreter asks in each."""

from __future__ import annotations

from collections.abc import Iterator

from tests.campaigns.hostile.input import Input, Room

NAME = "environments"
ODD: dict[str, dict[str, str | None]] = {
    **{f"{name}={value!r}": {name: value} for name, values in {
        "LOGNAME": ("ole", "", "\x1b[2J", "x" * 4000, "a\nb"), "USER": ("ole", ""), "HOME": (None,
        "", "/nowhere"),
        "LANG": ("C", "tr_TR.UTF-8", "xx"), "LC_ALL": ("C", "POSIX", "junk"), "TERM": ("dumb", "",
        None),
        "COLUMNS": ("1", "0", "junk", "-5"), "LINES": ("0",), "TZ": ("junk", "", "Pacific/Apia",
        ":/etc/hostname"),
        "TMPDIR": ("/nowhere",), "NO_COLOR": ("1",), "PAGER": ("/nowhere",),
        "GIT_DIR": ("/nowhere",),
        "GIT_WORK_TREE": ("/nowhere",), "GIT_INDEX_FILE": ("/nowhere/index",),
        "GIT_OBJECT_DIRECTORY": ("/nowhere",),
        "GIT_ALTERNATE_OBJECT_DIRECTORIES": ("/nowhere",), "GIT_NAMESPACE": ("other",),
        "GIT_COMMON_DIR": ("/nowhere",),
        "GIT_CONFIG": ("/nowhere",), "GIT_CEILING_DIRECTORIES": ("/",), "GIT_PREFIX": ("x/",),
        "GIT_DEFAULT_HASH": ("sha256",), "GIT_SHALLOW_FILE": ("/nowhere",),
        "GIT_GLOB_PATHSPECS": ("1",),
        "GIT_AUTHOR_DATE": ("junk",), "GIT_COMMITTER_NAME": ("Other",), "GIT_FLUSH": ("0",),
        "GIT_QUARANTINE_PATH": ("x",),
        "GIT_TRACE": ("2",), "GIT_PYTHON_TRACE": ("full",), "GIT_PYTHON_REFRESH": ("junk",),
        "GIT_PYTHON_GIT_EXECUTABLE": ("/nowhere",), "PYTHONUTF8": ("0",),
        "PYTHONIOENCODING": ("ascii", "latin-1"),
        "PYTHONOPTIMIZE": ("2",), "PYTHONHASHSEED": ("1",), "PYTHONDONTWRITEBYTECODE": ("1",),
        "PYTHONDEVMODE": ("1",),
        "WITNESSMARK_NO_INDEX": ("1",), "XDG_CACHE_HOME": (None, "relative", "/proc/nowhere"),
        "XDG_CONFIG_HOME": ("/proc/nowhere",), "XDG_STATE_HOME": ("/proc/nowhere",),
        "LS_COLORS": ("junk",),
        "SSH_USER_AUTH": ("/etc/hostname",), "SUDO_USER": ("ole",),
    }.items() for value in values},
    "no git on the path": {"PATH": "/nowhere"}, "no path": {"PATH": None},
    "an empty path": {"PATH": ""},
    "settings by number": {"GIT_CONFIG_COUNT": "1", "GIT_CONFIG_KEY_0": "core.fsmonitor",
    "GIT_CONFIG_VALUE_0": "{program}"},
    "settings by parameter": {"GIT_CONFIG_PARAMETERS": "'core.fsmonitor={program}'"},
    "settings of the account": {"GIT_CONFIG_GLOBAL": "{outside}/config",
    "GIT_CONFIG_SYSTEM": "{outside}/config"},
    "a home with settings": {"HOME": "{outside}"},
    "a differ": {"GIT_EXTERNAL_DIFF": "{program}"}, "ssh": {"GIT_SSH_COMMAND": "{program}",
    "GIT_SSH": "{program}"},
    "a pager": {"GIT_PAGER": "{program}", "PAGER": "{program}", "LESSOPEN": "|{program} %s"},
    "an editor": {"GIT_EDITOR": "{program}", "EDITOR": "{program}", "VISUAL": "{program}"},
    "a password asker": {"GIT_ASKPASS": "{program}", "SSH_ASKPASS": "{program}"},
    "templates": {"GIT_TEMPLATE_DIR": "{outside}"}, "a proxy": {"GIT_PROXY_COMMAND": "{program}"},
    "a browser": {"BROWSER": "{program}"},
    "traces": {"GIT_TRACE": "{outside}/trace", "GIT_TRACE2_EVENT": "{outside}/trace2",
    "GIT_TRACE_PACKET": "{outside}/t"},
    "nothing but the path": dict.fromkeys(("HOME", "LANG", "TERM", "USER", "LOGNAME",
    "XDG_CACHE_HOME", "XDG_CONFIG_HOME")),
}  # fmt: skip


def inputs() -> Iterator[Input]:
    """Each environment; without git there is nothing to be asked, and that is said."""
    for name, environment in ODD.items():
        sound = "path" not in name.lower() or name == "nothing but the path"
        sound = sound and "GIT_EXECUTABLE" not in name
        yield Input(NAME, name[:80], _account, past=sound, environment=environment)


def _account(room: Room) -> None:
    """Settings as an account has them; what an account's own say is of the account, so none run
    anything here.
    """
    (room.outside / "config").write_text("[core]\n\tfsmonitor = false\n")
