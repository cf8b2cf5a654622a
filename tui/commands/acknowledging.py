"""The command by which somebody says that what is wrong with the past is known: acknowledge."""

from __future__ import annotations

import click

from tui.commands.frame import CommandOptions, shared_options
from tui.commands.pencilling import put_inked


@click.command()
@click.argument("commit", default="")
@click.option("--reason", default="", help="Why it may stay as it is.")
@shared_options
def acknowledge(wanted: CommandOptions, commit: str, reason: str) -> int:
    """Say that something which `check` holds against the past is known: COMMIT, or the only one.

    A part of the past that is lost, or a save with a wrong stamp and all before it, as a lead; or
    a removal that did not hold since somebody else changed the same thing meanwhile. The act is a
    commit of the book.
    """
    return put_inked(wanted.open().acknowledge(commit, reason), wanted.form)
