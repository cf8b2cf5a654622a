"""Commands for whole records: new, copy, rename, retire, restore; and for books: init, upgrade."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from engine.views.serialise import plain
from engine.views.wording import count
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json, say
from tui.commands.pencilling import put_inked

if TYPE_CHECKING:
    from engine.views import Upgraded

_REASON = click.option("--reason", default="", help="Why; it stays in history.")


@click.command()
@click.argument("name")
@click.option("--part", required=True, help="What the part is called.")
@click.option("--cell", required=True, help="The cell it runs on.")
@click.option("--units", required=True, type=click.Choice(["mm", "in"]), help="Unit of lengths.")
@click.option("--drawing", help="Drawing number.")
@click.option("--revision", help="Revision of the drawing.")
@click.option("--operation", type=int, help="Number of the operation.")
@_REASON
@shared_options
def new(wanted: CommandOptions, name: str, reason: str, **header: Any) -> int:
    """Begin a record."""
    known = {key: value for key, value in header.items() if value is not None}
    return put_inked(wanted.open().new(name, reason=reason, **known), wanted.form)


@click.command()
@click.argument("source")
@click.argument("name")
@_REASON
@shared_options
def copy(wanted: CommandOptions, source: str, name: str, reason: str) -> int:
    """Begin a record as a copy; it gets an identity of its own."""
    return put_inked(wanted.open().document(source).copy(name, reason), wanted.form)


@click.command()
@click.argument("record")
@click.argument("name")
@_REASON
@shared_options
def rename(wanted: CommandOptions, record: str, name: str, reason: str) -> int:
    """Give a record another name; its history goes along."""
    return put_inked(wanted.open().document(record).rename(name, reason), wanted.form)


@click.command()
@click.argument("record")
@click.option("--back", is_flag=True, help="Put it back into the list.")
@_REASON
@shared_options
def retire(wanted: CommandOptions, record: str, back: bool, reason: str) -> int:
    """Take a record out of the list; its history stays."""
    return put_inked(wanted.open().document(record).retire(reason, back=back), wanted.form)


@click.command()
@click.argument("record")
@click.argument("mark", default="")
@click.argument("address", default="")
@click.option("--name", default="", help="Another name for a record that was taken out.")
@_REASON
@shared_options
def restore(
    wanted: CommandOptions, record: str, mark: str, address: str, name: str, reason: str
) -> int:
    """Ink again what stood at a mark: a value, a section, or the whole record.

    What was taken out of the book (see `list --taken-out`) comes back by it, with its past;
    without a mark as it stood last.
    """
    document = wanted.open().document(record)
    return put_inked(document.restore(mark, address, reason, name=name), wanted.form)


@click.command()
@click.argument(
    "folder", metavar="DIR", type=click.Path(file_okay=False, readable=False, path_type=Path)
)
@click.option("--name", default="", help="What people call the book.")
@click.option(
    "--shared",
    is_flag=False,
    flag_value="group",
    default="",
    metavar="[HOW]",
    help="For several accounts of this machine: group (default), all, or 0640.",
)
@click.option("--group", default="", help="The group that these accounts belong to.")
@shared_options
def init(wanted: CommandOptions, folder: Path, name: str, shared: str, group: str) -> int:
    """Start a book in a folder; files of a book that lie there are taken in."""
    from engine.book import Book

    shared = shared or ("group" if group else "")
    book = Book.start(folder, as_person=wanted.person, name=name, shared=shared, group=group)
    say(f"{book.name}: a book of {count(len(book.documents()), 'file')} begins in {folder}")
    return EXIT_DONE


@click.command()
@click.option("--ink", "at_once", is_flag=True, help="Do it, in one commit; a lead's act.")
@shared_options
def upgrade(wanted: CommandOptions, at_once: bool) -> int:
    """Show which files have an older format; --ink brings them to the present one.

    No value changes by it: sign-offs, pencil and what was read back stay as they are.
    """
    done = wanted.open().upgrade(ink=at_once)
    if wanted.form == "json":
        put_json(plain(done))
        return EXIT_DONE
    if wanted.form == "csv":
        put_csv(plain(done.files))
        return EXIT_DONE
    for file in done.files:
        names = ", ".join(f"{old} is {new} now" for old, new in file.names)
        put(f"{file.path}: format {file.old} -> {file.new}{f'; {names}' if names else ''}")
    for item in done.left:
        say(f"left as it is: {item.path}: {item.why}")
    say(_upgraded_in_words(done))
    return EXIT_DONE


def _upgraded_in_words(done: Upgraded) -> str:
    if done.commit:
        return f"inked {done.commit[:10]}: {count(len(done.files), 'file')}, no value changed"
    if done.files:
        return "Nothing was written. `witnessmark upgrade --ink` does it in one commit."
    rest = "every other file" if done.left else "every file"
    return f"{rest} has the present format"


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(readable=False, path_type=Path))
def trust(folder: Path) -> int:
    """Name a book that belongs to another account as trusted."""
    from engine.book import Book

    remembered = Book.trust(folder)
    say(f"{folder} may be opened by you from now on; remembered in {remembered}")
    return EXIT_DONE
