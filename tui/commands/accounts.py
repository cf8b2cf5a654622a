"""Commands on accounts: who is at the terminal and how that is known, and a book for several."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from engine.views.serialise import plain
from engine.views.wording import count
from tui.commands.frame import EXIT_DONE, EXIT_FOUND, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json, say

if TYPE_CHECKING:
    from engine.views import Identity

_MOST_TOLD = 12  # paths that belong to others


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


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(readable=False, path_type=Path))
@click.option(
    "--how",
    default="group",
    show_default=True,
    metavar="HOW",
    help="group: its members read and write; all: everybody reads, too; or rights, as 0640.",
)
@click.option("--group", default="", help="The group (default: the one that it has).")
@shared_options
def share(wanted: CommandOptions, folder: Path, how: str, group: str) -> int:
    """Share a book, or a meeting point, with other accounts of this machine.

    Its owner does it once; done again, it puts rights in order that something else changed.
    """
    from engine.book import Book

    done = Book.share(folder, how, group)
    if wanted.form == "json":
        put_json(plain(done))
    elif wanted.form == "csv":
        put_csv([plain(done)])
    changed = count(done.changed, "file or folder", "files and folders")
    say(f"{done.folder} is shared ({done.how}) with the group {done.group}; {changed} changed")
    for above in done.closed:
        say(f"note: the group does not come through {above}: its owner opens it, chmod o+x {above}")
    for path, owner in done.left[:_MOST_TOLD]:
        say(f"left as it is: {path} belongs to {owner}, who can do the same: chmod g+rw {path}")
    if len(done.left) > _MOST_TOLD:
        say(f"and {len(done.left) - _MOST_TOLD} more that belong to others")
    return EXIT_FOUND if done.left else EXIT_DONE
