"""Where the program starts. Textual is imported only when a screen opens.

Without a command the screen opens on the book; without a terminal the list is
printed instead, so that a pipe always gets text.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from tui.commands import lots, pencilling, reading, records
from tui.commands.demo import demo
from tui.commands.frame import EXIT_DONE, Wanted, run, shared_options
from tui.safe import terminal_can


@click.group(invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="witnessmark")
@shared_options
@click.pass_context
def witnessmark(context: click.Context, wanted: Wanted) -> int:
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
def open_command(context: click.Context, wanted: Wanted, record: str) -> int:
    """Open the screen at a record."""
    return open_screen(context, wanted, record)


def open_screen(context: click.Context, wanted: Wanted, record: str) -> int:
    """The screen, or the same thing as text where there is no terminal for it."""
    if not (terminal_can(os.environ, sys.stdout) and sys.stdin.isatty()):
        command = context.invoke
        if record:
            return int(command(reading.show, record=record, at="now") or 0)
        return int(command(reading.list_command, retired=False) or 0)
    return start_screen(Path(wanted.book), record, wanted.person)


def start_screen(folder: Path, record: str, person: str) -> int:
    """Open the screen on a book; the engine is imported after the first picture."""
    from tui.app import run as run_app

    def open_book(chosen: str):  # type: ignore[no-untyped-def]
        from engine.book import Book

        return Book.open(folder, as_person=chosen)

    return run_app(open_book, record=record, as_person=person)


for _command in (
    reading.list_command,
    reading.show,
    reading.marks,
    reading.check,
    reading.diff,
    reading.trace,
    pencilling.set_command,
    pencilling.ink,
    pencilling.pencil,
    records.new,
    records.copy,
    records.rename,
    records.retire,
    records.restore,
    records.init,
    records.trust,
    lots.run,
    lots.event,
    lots.sign_off,
    demo,
):
    witnessmark.add_command(_command)


def main() -> int:
    """The console script; its exit status."""
    return run(witnessmark)


if __name__ == "__main__":
    sys.exit(main())
