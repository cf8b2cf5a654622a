"""The command by which a lead says that something lost of the past is known: acknowledge."""

from __future__ import annotations

import click

from tui.commands.frame import CommandOptions, shared_options
from tui.commands.pencilling import put_inked


@click.command()
@click.argument("commit", default="")
@click.option("--reason", default="", help="Why it may stay as it is.")
@shared_options
def acknowledge(wanted: CommandOptions, commit: str, reason: str) -> int:
    """Acknowledge, as a lead, that a part of the past was lost: COMMIT, or the only one there is.

    Until then every check and list calls it an error. The act is a commit of the book.
    """
    return put_inked(wanted.open().acknowledge(commit, reason), wanted.form)
