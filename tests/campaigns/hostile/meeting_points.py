"""Meeting points that mean harm: configuration, hooks, and branches that no book would send."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from tests.campaigns.hostile import configurations, hand_commits
from tests.campaigns.hostile.input import Input, Room
from tests.mini_book import plain_git

NAME = "meeting points"
KEYS = ("core.fsmonitor", "core.hooksPath", "uploadpack.packObjectsHook",
"core.alternateRefsCommand", "include.path",
        "receive.procReceiveRefs", "core.worktree", "trace2.eventTarget", "gc.recentObjectsHook",
        "core.sshCommand")  # fmt: skip
URLS = ("ext::{program}", "-o{program}", "--upload-pack={program}",
"ssh://-oProxyCommand={program}/x", "http://127.0.0.1:1/x",
        "git://127.0.0.1:1/x", "file://{outside}", "{outside}", "{outside}/nothing", "a\nb", "",
        "fd::3", "user@-x:y",
        "\x1b[2J", "../outside", "{box}/book", "{box}/other")  # fmt: skip


def inputs() -> Iterator[Input]:
    """Keys, hooks and addresses; and every hand commit of a sample that comes in by sync."""
    for key in KEYS:
        yield Input(NAME, f"its {key}", partial(_key, key), syncs=True)
    for hook in configurations.HOOKS:
        yield Input(NAME, f"its hook {hook}", partial(_hook, hook), syncs=True)
    for url in URLS:
        yield Input(NAME, f"address {url!r}", partial(_url, url), past=False, syncs=True)
    for one in list(hand_commits.inputs())[::17]:
        yield replace(
            one, room=NAME, name=f"there {one.name}", make=partial(_sent, one), syncs=True
        )


def _key(key: str, room: Room) -> None:
    value = configurations.filled(room, configurations.KEYS.get(key, configurations.PROGRAM))
    plain_git(room.box / "hub.git", "config", "--file", "config", key, value)
    configurations._companions(room)


def _hook(name: str, room: Room) -> None:
    target = room.box / "hub.git/hooks" / name
    target.parent.mkdir(exist_ok=True)
    target.write_bytes(room.program.read_bytes())
    target.chmod(0o755)


def _url(url: str, room: Room) -> None:
    filled = url.format(program=room.program, outside=room.outside, box=room.box)
    room.plain("config", "--file", ".git/config", "remote.origin.url", filled)


def _sent(one: Input, room: Room) -> None:
    """Another box has it, and sends it."""
    there = Room(room.box / "elsewhere")
    there.box.mkdir()
    plain_git(there.box, "clone", "-q", str(room.box / "hub.git"), "book")
    one.make(there)
    plain_git(there.book, "push", "-qf", "origin", "HEAD:main")
