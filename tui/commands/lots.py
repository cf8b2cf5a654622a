"""Commands for the lot's log, datum events and sign-offs."""

from __future__ import annotations

from decimal import Decimal

import click

from engine.views.serialise import plain
from engine.views.wording import count
from schemas.errors import UsageError
from schemas.number import read_typed
from tui.commands import tables
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put_items, say
from tui.commands.pencilling import put_inked

CAUTION = (
    "Caution: this program only records. Prove out slowly and without a blank first; lock out "
    "before changing jaws or fingers or refilling a live loader; local rules come first."
)
_NOTE = click.option("--note", default="", help="A remark; it stays in the log.")


@click.group()
def run() -> None:
    """The lot's log: start, confirm, stage, piece, refill, stop."""


@run.command()
@click.argument("record")
@click.option("--quantity", type=click.IntRange(min=1), help="Quantity ordered, if not as written.")
@_NOTE
@shared_options
def start(wanted: CommandOptions, record: str, quantity: int | None, note: str) -> int:
    """Open a run on the revision that is inked now."""
    book = wanted.open()
    mine = book.document(record).pencil.draft() if book.identity.key else None
    done = book.document(record).runs.start(quantity, note)
    if mine is not None:
        is_in = "is" if len(mine.marks) == 1 else "are"
        number = count(len(mine.marks), "value")
        say(f"note: {number} {is_in} in pencil; the run is tied to what is inked")
    say(CAUTION)
    return put_inked(done, wanted.form)


@run.command()
@click.argument("record")
@_NOTE
@shared_options
def confirm(wanted: CommandOptions, record: str, note: str) -> int:
    """Say that the inked values were put into the machine and read back there."""
    return put_inked(wanted.open().document(record).runs.confirm(note=note), wanted.form)


@run.command()
@click.argument("record")
@click.argument("percent")
@_NOTE
@shared_options
def stage(wanted: CommandOptions, record: str, percent: str, note: str) -> int:
    """Note a stage of prove-out, in percent of full speed."""
    try:
        share = read_typed(percent.rstrip(" %"))
    except ValueError as error:
        raise UsageError(str(error)) from None
    if not 0 < share <= Decimal(100):
        raise UsageError(f"{percent} is no stage", hint="More than 0 and at most 100 percent.")
    done = wanted.open().document(record).runs.stage(percent=share, note=note)
    return put_inked(done, wanted.form)


@run.command()
@click.argument("record")
@click.argument("which", type=click.Choice(["first", "last"]))
@_NOTE
@shared_options
def piece(wanted: CommandOptions, record: str, which: str, note: str) -> int:
    """Note that the first or the last piece was checked."""
    done = wanted.open().document(record).runs.piece(which=which, note=note)
    return put_inked(done, wanted.form)


@run.command()
@click.argument("record")
@click.option("--good", type=click.IntRange(min=0), help="Good parts so far.")
@click.option("--scrap", type=click.IntRange(min=0), help="Scrapped parts so far.")
@_NOTE
@shared_options
def refill(
    wanted: CommandOptions, record: str, good: int | None, scrap: int | None, note: str
) -> int:
    """Note that the tray was refilled."""
    done = wanted.open().document(record).runs.refill(good=good, scrap=scrap, note=note)
    return put_inked(done, wanted.form)


@run.command()
@click.argument("record")
@click.option("--good", type=click.IntRange(min=0), required=True, help="Good parts.")
@click.option("--scrap", type=click.IntRange(min=0), required=True, help="Scrapped parts.")
@_NOTE
@shared_options
def stop(wanted: CommandOptions, record: str, good: int, scrap: int, note: str) -> int:
    """Close the run with its counts."""
    return put_inked(wanted.open().document(record).runs.stop(good, scrap, note), wanted.form)


@run.command("log")
@click.argument("record")
@click.argument("number", type=int, required=False)
@shared_options
def log_command(wanted: CommandOptions, record: str, number: int | None) -> int:
    """Show what was noted in the runs of a record, or in run NUMBER."""
    items = wanted.open().document(record).runs.log(number)
    put_items(plain(items), tables.log_rows(items), wanted.form)
    return EXIT_DONE


@click.command()
@click.argument("cell")
@click.argument("kind")
@click.option("--reason", default="", help="What happened.")
@shared_options
def event(wanted: CommandOptions, cell: str, kind: str, reason: str) -> int:
    """Note a crash, homing, service, jaws off, vice off, or a moved loader.

    Positions taught before it are suspect from then on.
    """
    return put_inked(wanted.open().event(cell, kind, reason), wanted.form)


@click.command("sign-off")
@click.argument("record")
@click.option("--note", default="", help="A remark.")
@shared_options
def sign_off(wanted: CommandOptions, record: str, note: str) -> int:
    """Accept a record as it is inked now, as a lead."""
    return put_inked(wanted.open().document(record).sign_off(note), wanted.form)
