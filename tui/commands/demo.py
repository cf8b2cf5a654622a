"""The demo: a copy of the demo book with eight weeks of work played into it.

Without a terminal it prints a tour instead of opening the screen. A folder that
holds a demo already is opened as it is; nothing is ever written over.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

import click

from schemas.errors import UsageError
from tui.commands import reading
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, say, say_over
from tui.demo.script import TOUR
from tui.start import can_show, start_screen


@click.command()
@click.argument(
    "folder",
    metavar="[DIR]",
    default="witnessmark-demo",
    type=click.Path(file_okay=False, path_type=Path),
)
@click.option(
    "--weeks",
    type=click.FloatRange(0.5, 520),
    default=8.0,
    show_default=True,
    help="How many weeks of history, ending now.",
)
@click.option("--tour", is_flag=True, help="Print the tour even on a terminal.")
@shared_options
@click.pass_context
def demo(
    context: click.Context, wanted: CommandOptions, folder: Path, weeks: float, tour: bool
) -> int:
    """Copy the demo book to a folder, play its history, and open it."""
    if (folder / "book.toml").exists():
        say(f"{folder} is there already; it is opened as it is")
    elif folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder} holds other things", hint="Name an empty or a new folder.")
    else:
        _play(folder, weeks)
    context.obj = CommandOptions(str(folder), wanted.person, wanted.form)
    if tour or not can_show():
        return _tour(context)
    return start_screen(folder, "", wanted.person)


def _play(folder: Path, weeks: float) -> None:
    from engine.book import current_login, system_clock
    from tui.demo.play import Player

    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    say(f"playing {weeks:g} weeks of work of an invented shop into {folder} …")
    shown = sys.stderr.isatty()

    def progress(share: float) -> None:
        if shown:
            say_over(f"{share:4.0%}")

    try:
        Player(folder, system_clock(), weeks, progress, current_login()).play()
    except BaseException:  # Ctrl-C, too: half a history must not be taken for a demo
        # Only what was made here goes.
        shutil.rmtree(folder, ignore_errors=True)
        if not made:
            folder.mkdir(exist_ok=True)
        raise
    if shown:
        say_over("     ")
        say_over("")


def _since_run(record: str, run: str) -> dict[str, Any]:
    """What `diff` is asked for: one record, since a run (the last one where none is named)."""
    ways = {"since_run": run, "since_sign_off": False, "when": None, "every": False}
    return {"names": (record,), **ways}


def _tour(context: click.Context) -> int:
    """List, findings, what changed since the last run, and the life of a position."""
    record, address = TOUR
    steps = (
        ("The records, by name:", reading.list_command, {"retired": False}),
        ("What `check` finds:", reading.check, {"records": ()}),
        (f"What changed on {record} since its last run:", reading.diff, _since_run(record, "")),
        (f"What changed on {record} since run 2:", reading.diff, _since_run(record, "2")),
        (
            f"Who moved {address}, and why:",
            reading.trace,
            {"record": record, "address": address, "through_copies": False},
        ),
    )
    for title, command, arguments in steps:
        put(f"\n{title}\n")
        context.invoke(command, **arguments)
    put(
        "\nThis program records; it is no safety device. Local rules and licensed practice "
        "come first."
    )
    return EXIT_DONE
