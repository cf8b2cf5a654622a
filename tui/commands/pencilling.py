"""Commands for values in pencil, and for inking them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from engine.views.serialise import plain
from engine.views.wording import count
from schemas.address import lies_in
from schemas.errors import UsageError, WitnessmarkError, once_in_pencil
from tui.commands import tables
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_items, put_json, put_table, say

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.book import Book, DocumentHandle, Group
    from engine.views import Inked


_GROUP = (
    click.option(
        "--with-group",
        "group",
        flag_value="with",
        help="Ink older pencil of yours that belongs together with it, too.",
    ),
    click.option(
        "--only-this",
        "group",
        flag_value="without",
        help="Ink only what is named; what belongs together with it stays in pencil.",
    ),
)


def _group_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """What becomes of older pencil that belongs together with what is inked."""
    for option in reversed(_GROUP):
        function = option(function)
    return function


@click.command("set")
@click.argument("record")
@click.argument("pairs", nargs=-1, required=True, metavar="ADDRESS=VALUE...")
@click.option("--ink", "at_once", is_flag=True, help="Ink at once what you set, nothing else.")
@click.option("--reason", default="", help="Why; a taught position always needs one.")
@_group_options
@shared_options
def set_command(
    wanted: CommandOptions,
    record: str,
    pairs: tuple[str, ...],
    at_once: bool,
    reason: str,
    group: Group | None,
) -> int:
    """Pencil values: ADDRESS=VALUE; an empty VALUE takes the value out.

    --ink inks what is set here. Older pencil stays as it is and is listed; where it belongs
    together with what is set (heights, bites, jaws, fingers, tray, positions), say
    --with-group or --only-this.

    Leads may set values of cells/NAME, people and book in the same way.
    """
    if group and not at_once:
        raise UsageError("--with-group and --only-this go with --ink")
    book = wanted.open()
    document = book.document(record)
    typed, gone = _pairs(pairs)
    if typed:
        document.pencil.set_all(typed)
    for address in gone:
        document.pencil.clear(address)
    if at_once:
        try:
            done = document.ink(reason, [*typed, *gone], group or "ask")
        except WitnessmarkError:
            if _in_pencil(document, [*typed, *gone]):
                say("what you set is in pencil")
            raise
        return put_inked(done, wanted.form)
    with once_in_pencil():
        return _put_pencil(book, record, wanted.form, mine=True)


def _in_pencil(document: DocumentHandle, addresses: list[str]) -> bool:
    """Whether something of mine at these addresses is in pencil; it was, where nobody can tell."""
    try:
        draft = document.pencil.draft()
    except (OSError, WitnessmarkError):
        return True
    marks = draft.marks if draft else ()
    return any(lies_in(mark.address, address) for mark in marks for address in addresses)


def _pairs(pairs: tuple[str, ...]) -> tuple[dict[str, str], list[str]]:
    typed: dict[str, str] = {}
    gone = []
    for pair in pairs:
        address, equals, value = pair.partition("=")
        if not equals or not address.strip():
            raise UsageError(
                f"{pair!r} is not ADDRESS=VALUE", hint="Write it as positions.seat.reach=612.350"
            )
        if value.strip():
            typed[address.strip()] = value
        else:
            gone.append(address.strip())
    return typed, gone


@click.command()
@click.argument("record")
@click.argument("addresses", nargs=-1, metavar="[ADDRESS...]")
@click.option("--reason", default="", help="Why; a taught position always needs one.")
@_group_options
@shared_options
def ink(
    wanted: CommandOptions,
    record: str,
    addresses: tuple[str, ...],
    reason: str,
    group: Group | None,
) -> int:
    """Ink your pencil on a record, with the program and photos that changed.

    With ADDRESS... only what lies there; the rest stays in pencil and is listed.
    """
    if group and not addresses:
        raise UsageError("--with-group and --only-this go with an ADDRESS")
    done = wanted.open().document(record).ink(reason, addresses, group or "ask")
    return put_inked(done, wanted.form)


def put_inked(done: Inked, form: str) -> int:
    """A save, and what the person should know about it."""
    if form == "json":
        put_json(plain(done))
    elif form == "csv":
        put_items(plain(done.changes), [], form)
    else:
        put(f"inked {done.commit[:10]}  {done.subject}")
        put_table(tables.change_rows(done.changes))
        if done.left is not None:
            put(f"still in pencil: {count(len(done.left.marks), 'value')}")
            put_table(tables.pencil_rows([done.left]))
    for message in done.messages:
        say(f"note: {message}")
    return EXIT_DONE


@click.command()
@click.argument("record", required=False)
@click.argument("addresses", nargs=-1)
@click.option("--rub-out", "act", flag_value="rub_out", help="Rub out yours, or ADDRESS... of it.")
@click.option(
    "--bring-back", "act", flag_value="bring_back", help="Bring back what you rubbed out."
)
@click.option("--undo", "act", flag_value="undo", help="Undo your last act.")
@click.option("--redo", "act", flag_value="redo", help="Do it again.")
@click.option(
    "--keep",
    "act",
    flag_value="keep",
    help="Keep yours on top of what somebody else inked meanwhile.",
)
@click.option(
    "--take-from-disk",
    "act",
    flag_value="take_from_disk",
    help="Make pencil of what was changed in the file itself.",
)
@click.option(
    "--put-back",
    "act",
    flag_value="put_back",
    help="Put the inked text back into the file; a copy is kept.",
)
@shared_options
def pencil(
    wanted: CommandOptions, record: str | None, addresses: tuple[str, ...], act: str | None
) -> int:
    """Show what is pencilled and by whom; rub it out, bring it back."""
    book = wanted.open()
    if act is None:
        return _put_pencil(book, record, wanted.form)
    if record is None:
        raise UsageError("whose pencil on which record?", hint="pencil RECORD --rub-out")
    if addresses and act != "rub_out":
        raise UsageError("only --rub-out takes addresses")
    _do(book.document(record), act, addresses)
    with once_in_pencil():
        return _put_pencil(book, record, wanted.form)


def _do(document: DocumentHandle, act: str, addresses: tuple[str, ...]) -> None:
    """One act of pencil or on the file; what came of it is said."""
    if act == "rub_out":
        document.pencil.rub_out(addresses)
        say("rubbed out; --bring-back brings it back")
    elif act == "undo":
        say(f"undone: {document.pencil.undo()}")
    elif act == "redo":
        say(f"done again: {document.pencil.redo()}")
    elif act == "bring_back":
        document.pencil.bring_back()
    elif act == "keep":
        document.pencil.keep()
    elif act == "put_back":
        copy = document.on_disk.put_back()
        kept = f"; what was there is kept in {copy}" if copy else ""
        say(f"the file is as inked{kept}")
    else:
        found = document.on_disk.found()
        document.on_disk.take()
        if found is not None and found.comments:
            say(f"the file's comments ({found.comments}) are kept in the notes")


def _put_pencil(book: Book, record: str | None, form: str, *, mine: bool = False) -> int:
    drafts = book.document(record).drafts() if record else book.drafts()
    drafts += book.refused_pencil(record or "")
    if mine:
        drafts = [draft for draft in drafts if draft.who.key == book.identity.key]
    troubles = book.pencil_troubles() if not (mine and drafts) else []
    for trouble in troubles:
        say(f"note: {trouble}")
    if not drafts and not troubles and form == "text":
        say("nothing is in pencil")
    put_items([p for draft in drafts for p in plain(draft)], tables.pencil_rows(drafts), form)
    for name in [record] if record else book.documents():
        found = book.document(name).on_disk.found()
        if found is not None and form == "text":
            say(
                f"{name}: found on disk, changed outside the program; --take-from-disk makes "
                "pencil of it, --put-back puts the inked text back"
            )
            put_table(tables.change_rows(found.changes))
    return EXIT_DONE
