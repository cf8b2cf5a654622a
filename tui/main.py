"""Where the program starts. Textual is imported only when a screen opens.

Without a command the screen opens on the book; without a terminal the list is
printed instead, so that a pipe always gets text.
"""

from __future__ import annotations

import io
import os
import sys
from difflib import get_close_matches
from importlib import import_module
from pathlib import Path

import click

from tui.commands.frame import EXIT_DONE, CommandOptions, run, shared_options
from tui.start import can_show, start_screen

STANDARD_ERROR = 2

# Where each command is written. A command is imported when it is called: a
# screen over a slow line must not wait for what it does not use.
_COMMANDS = {
    "list": "reading:list_command",
    "show": "reading:show",
    "marks": "reading:marks",
    "check": "reading:check",
    "figures": "figures:figures",
    "program": "programs:program",
    "expected": "figures:expected",
    "refills": "figures:refills",
    "tray-fit": "figures:tray_fit",
    "diff": "reading:diff",
    "trace": "reading:trace",
    "history": "history:history",
    "stood": "history:stood",
    "moved": "history:moved",
    "creep": "history:creep",
    "export-history": "history:export_history",
    "set": "pencilling:set_command",
    "ink": "pencilling:ink",
    "pencil": "pencilling:pencil",
    "new": "records:new",
    "copy": "records:copy",
    "rename": "records:rename",
    "retire": "records:retire",
    "restore": "records:restore",
    "init": "records:init",
    "share": "accounts:share",
    "who": "accounts:who",
    "upgrade": "records:upgrade",
    "trust": "records:trust",
    "run": "lots:run",
    "event": "lots:event",
    "sign-off": "lots:sign_off",
    "acknowledge": "acknowledging:acknowledge",
    "sheet": "exports:sheet",
    "plate": "exports:plate",
    "sync": "syncing:sync",
    "demo": "demo:demo",
}


class CommandsOnCall(click.Group):
    """A group whose commands are imported one by one."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order in which help shows them."""
        del ctx
        return ["open", *_COMMANDS]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name; close names are told where there is none."""
        if cmd_name in _COMMANDS:
            module, _, name = _COMMANDS[cmd_name].partition(":")
            found = getattr(import_module(f"tui.commands.{module}"), name)
            assert isinstance(found, click.Command)
            return found
        known = super().get_command(ctx, cmd_name)
        near = get_close_matches(cmd_name, self.list_commands(ctx), n=1)
        if known is None and near:
            raise click.UsageError(f"There is no command {cmd_name!r}. Did you mean {near[0]!r}?")
        return known


@click.group(
    cls=CommandsOnCall,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="witnessmark")
@shared_options
@click.pass_context
def witnessmark(context: click.Context, wanted: CommandOptions) -> int:
    """The memory of a set-up: what it was, who changed it, when and why.

    Without a command, opens the book in this folder (or in --book DIR).
    """
    context.obj = wanted
    if context.invoked_subcommand is not None:
        return EXIT_DONE
    return open_screen(context, wanted, "")


@witnessmark.command("open")
@click.argument("record")
@shared_options
@click.pass_context
def open_command(context: click.Context, wanted: CommandOptions, record: str) -> int:
    """Open the screen at a record."""
    return open_screen(context, wanted, record)


def open_screen(context: click.Context, wanted: CommandOptions, record: str) -> int:
    """The screen, or the same thing as text where there is no terminal for it."""
    if not can_show():
        from tui.commands import reading

        command = context.invoke
        if record:
            return int(command(reading.show, record=record, at="now") or 0)
        return int(command(reading.list_command, retired=False) or 0)
    return start_screen(Path(wanted.book), record, wanted.person)


def main() -> int:
    """The command line; its exit status."""
    _be_robust()
    return run(witnessmark)


def _be_robust() -> None:
    """Leave no descriptor of the three free for a file, and print in any encoding.

    What was closed takes no input and no answer; messages to it are lost.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:  # the lowest that is free is taken
            os.open(os.devnull, os.O_RDWR if number == STANDARD_ERROR else os.O_RDONLY)
    sys.stdin = sys.stdin or os.fdopen(0)
    sys.stdout = sys.stdout or os.fdopen(1, "w")
    sys.stderr = sys.stderr or os.fdopen(STANDARD_ERROR, "w")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


if __name__ == "__main__":
    sys.exit(main())
