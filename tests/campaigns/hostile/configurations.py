"""Keys of git's configuration, hooks and attributes that name commands; the book may refuse to
open.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from tests.campaigns.hostile.input import Input, Room

NAME = "configurations"
PROGRAM, COMMAND, OUTSIDE = "{program}", "{command}", "{outside}"
KEYS = {
    "core.fsmonitor": PROGRAM, "core.hooksPath": OUTSIDE, "core.pager": COMMAND,
    "core.editor": PROGRAM,
    "core.sshCommand": PROGRAM, "core.askPass": PROGRAM, "core.gitProxy": PROGRAM,
    "core.alternateRefsCommand": PROGRAM, "core.worktree": OUTSIDE,
    "core.attributesFile": "{outside}/attributes",
    "diff.external": PROGRAM, "diff.toml.textconv": PROGRAM, "diff.toml.command": PROGRAM,
    "filter.run.clean": PROGRAM, "filter.run.smudge": PROGRAM, "filter.run.process": PROGRAM,
    "merge.run.driver": PROGRAM, "alias.cat-file": "!{program}", "alias.log": "!{program}",
    "gpg.program": PROGRAM, "gpg.ssh.program": PROGRAM, "credential.helper": "!{program}",
    "pager.log": PROGRAM, "sequence.editor": PROGRAM, "uploadpack.packObjectsHook": PROGRAM,
    "remote.origin.uploadpack": PROGRAM, "remote.origin.receivepack": PROGRAM,
    "remote.origin.vcs": "ext",
    "remote.origin.url": "ext::{program}", "url.ext::{program}.insteadOf": "/",
    "protocol.ext.allow": "always",
    "include.path": "{outside}/included", "trace2.eventTarget": "{outside}/trace",
    "extensions.partialClone": "origin", "remote.origin.promisor": "true",
    "submodule.recurse": "true",
    "core.sharedRepository": "0666", "core.bare": "true", "core.repositoryFormatVersion": "9",
    "gc.recentObjectsHook": PROGRAM, "man.viewer": PROGRAM, "browser.x.cmd": PROGRAM,
    "ssh.variant": "simple",
    "sendemail.tocmd": PROGRAM, "interactive.diffFilter": PROGRAM, "trailer.x.command": PROGRAM,
}  # fmt: skip
HOOKS = ("applypatch-msg", "pre-commit", "commit-msg", "post-commit", "post-checkout",
"post-merge", "pre-push",
         "pre-receive", "update", "post-receive", "post-update", "reference-transaction",
         "pre-auto-gc",
         "post-index-change", "post-rewrite", "fsmonitor-watchman", "proc-receive",
         "push-to-checkout")  # fmt: skip
ATTRIBUTES = ("filter=run", "diff=toml", "merge=run", "text eol=crlf", "ident",
"working-tree-encoding=UTF-16",
              "export-subst", "binary", "-text")  # fmt: skip


def inputs() -> Iterator[Input]:
    """Keys by ways to write them; hooks; attributes with the drivers that they name."""
    for key, value in KEYS.items():
        for way, write in WAYS.items():
            yield Input(NAME, f"{key} {way}", partial(write, key, value), past=False, syncs=True)
    for hook in HOOKS:
        yield Input(NAME, f"hook {hook}", partial(_hook, hook), syncs=True)
    for words in ATTRIBUTES:
        for where in (".gitattributes", ".git/info/attributes"):
            yield Input(NAME, f"{where} {words}", partial(_attributes, where, words))


def filled(room: Room, text: str) -> str:
    """A value of the table, for this room."""
    return text.format(program=room.program, command=room.command, outside=room.outside)


def _plain(key: str, value: str, room: Room) -> None:
    room.plain("config", "--file", ".git/config", filled(room, key), filled(room, value))
    _companions(room)


def _included(key: str, value: str, room: Room) -> None:
    (room.outside / "more").touch()
    room.plain(
        "config", "--file", str(room.outside / "more"), filled(room, key), filled(room, value)
    )
    with (room.git / "config").open("a") as file:
        file.write(f"[inclUDE]\n\tpath = {room.outside}/more\n")
    _companions(room)


def _included_if(key: str, value: str, room: Room) -> None:
    room.plain("config", "--file", str(room.git / "more"), filled(room, key), filled(room, value))
    with (room.git / "config").open("a") as file:
        file.write('[includeIf "gitdir:/"]\n\tpath = more\n')
    _companions(room)


def _of_work_tree(key: str, value: str, room: Room) -> None:
    room.plain("config", "--file", ".git/config", "extensions.worktreeConfig", "true")
    room.plain("config", "--file", ".git/config.worktree", filled(room, key), filled(room, value))
    _companions(room)


def _odd_text(key: str, value: str, room: Room) -> None:
    _plain(key, value, room)
    config = room.git / "config"
    config.write_bytes(b"\xef\xbb\xbf" + config.read_bytes().replace(b"\n", b"\r\n"))


WAYS: dict[str, Callable[[str, str, Room], None]] = {
    "plain": _plain, "included": _included, "included if": _included_if,
    "of the work tree": _of_work_tree,
    "with CRLF": _odd_text,
}  # fmt: skip


def _companions(room: Room) -> None:
    """What makes a driver work: attributes that name it, and what a key may point to."""
    room.write(".git/info/attributes", "* diff=toml filter=run merge=run\n")
    (room.outside / "attributes").write_text("* diff=toml filter=run\n")
    (room.outside / "included").write_text(f"[core]\n\tfsmonitor = {room.program}\n")


def _hook(name: str, room: Room) -> None:
    room.write(f".git/hooks/{name}", room.program.read_bytes())
    (room.git / "hooks" / name).chmod(0o755)


def _attributes(where: str, words: str, room: Room) -> None:
    room.write(where, f"* {words}\n*.toml {words}\n")
