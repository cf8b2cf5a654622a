"""Commands on accounts: who is at the terminal and how that is known, and a book for several."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from engine.views.serialise import plain
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json

if TYPE_CHECKING:
    from engine.views import Identity


@click.command()
@shared_options
def who(wanted: CommandOptions) -> int:
    """Show who you are in this book, how that is known, and what you may do."""
    me = wanted.open().identity
    if wanted.form == "json":
        put_json(plain(me))
    elif wanted.form == "csv":
        put_csv([plain(me)])
    else:
        _put_in_words(me)
    return EXIT_DONE


def _put_in_words(me: Identity) -> None:
    roles = ", ".join(me.roles) or "no role"
    put(f"{me.name} ({me.key}): {roles}" if me.key else "nobody whom this book knows")
    put(f"login {me.login} (from the kernel)")
    for hint in me.hints:
        put(f"hint: {hint.source} says {hint.says}; nothing follows from it")
    if me.candidates:
        put(f"--as can say who you are: {', '.join(me.candidates)}")
    elif not me.key:
        put("a lead can add this login to yours in people.toml; until then you read only")
