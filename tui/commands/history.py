"""Commands on the past of the whole book: history, stood, moved, creep, export-history.

They look and change nothing, so stopping one with Ctrl-C does no harm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from engine.views.serialise import flat, plain
from engine.views.wording import clock_words, day, moment, short, signed, spans
from schemas.errors import UsageError
from schemas.number import read_typed
from tui.commands import tables
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put_items, say, stream_csv, stream_json
from tui.commands.tables import Rows

if TYPE_CHECKING:
    from datetime import datetime

    from engine.book import Book
    from engine.views import Creep, Moved, Stood, Traced

_PERSON = click.option(
    "--person", "by", default="", metavar="PERSON", help="Only what this one changed."
)
_SINCE = click.option(
    "--since", metavar="WHEN", help="Only since 2026-03-02, yesterday, 'last week', '3 weeks'."
)
_ADDRESS = click.option(
    "--address", default="", metavar="PATTERN", help="Only addresses like 'positions.*'."
)
_RECORD = click.option("--record", default="", metavar="RECORD", help="Only this record.")


@click.command()
@_PERSON
@_SINCE
@_ADDRESS
@_RECORD
@click.option("--no-reason", is_flag=True, help="Only changes that nobody gave a reason for.")
@click.option("--page", default=1, show_default=True, type=click.IntRange(1))
@click.option("--per-page", default=50, show_default=True, type=click.IntRange(1, 10_000))
@shared_options
def history(
    wanted: CommandOptions, by: str, since: str | None, address: str, record: str, no_reason: bool,
    page: int, per_page: int,
) -> int:  # fmt: skip
    """List changes of values across the book, newest first."""
    book = wanted.open()
    begin = book.moment(since) if since else None
    if begin is not None:
        say(f"since {moment(begin)}")
    found = book.history(
        person=by, since=begin, address=address, name=record, without_reason=no_reason,
        page=page, per_page=per_page,
    )  # fmt: skip
    items, clocks = plain(found.items), _clocks(book, begin)
    more = {"page": found.number, "more": found.more, "clocks": clocks}
    put_items(items, _rows(found.items, book.own_logins()), wanted.form, **more)
    if wanted.form == "text":
        if not items:
            say("nothing was changed" if page == 1 else "there is no such page")
        if found.more:
            say(f"older changes follow: --page {page + 1}")
    return EXIT_DONE


def _clocks(book: Book, since: datetime | None) -> object:
    """What wrong clocks leave open of an answer that a moment was asked for: said, and as JSON."""
    clocks = book.clocks(since) if since is not None else None
    for words in clock_words(clocks):
        say(words)
    return plain(clocks)


def _rows(items: tuple[Traced, ...], own: tables.Logins) -> Rows:
    heading, *rows = tables.trace_rows(items, own)
    return [
        ["record", *heading],
        *([item.document, *row] for item, row in zip(items, rows, strict=True)),
    ]


@click.command()
@click.argument("address")
@click.option("--below", metavar="NUMBER", help="Values below this.")
@click.option("--above", metavar="NUMBER", help="Values above this.")
@click.option("--on", "on", required=True, metavar="DAY", help="2026-03-02, yesterday, …")
@click.option("--ran", is_flag=True, help="Only records that ran with it on that day.")
@shared_options
def stood(
    wanted: CommandOptions, address: str, below: str | None, above: str | None, on: str, ran: bool
) -> int:
    """List the records in which a value lay within a range on a day, and the runs with it."""
    book = wanted.open()
    then = book.moment(on)
    say(f"on {day(then)}")
    try:
        low, high = (read_typed(text) if text else None for text in (below, above))
    except ValueError as error:
        raise UsageError(str(error)) from None
    items = book.stood(address, then, below=low, above=high)
    items = [item for item in items if item.runs or not ran]
    text = [["record", "value", "from", "unit", "runs", "commit"]]
    text += [_stood_row(item) for item in items]
    clocks = _clocks(book, then)
    put_items(plain(items), text, wanted.form, clocks=clocks)
    if not items and wanted.form == "text":
        say("no record")
    return EXIT_DONE


def _stood_row(item: Stood) -> list[str]:
    value = short(item.value)
    return [item.record, item.address, value, item.unit, spans(item.runs), item.commit[:10]]


@click.command()
@_ADDRESS
@_SINCE
@click.option("--no-reason", is_flag=True, help="Only values for which nobody ever gave a reason.")
@click.option("--most", default=20, show_default=True, type=click.IntRange(1), metavar="N")
@shared_options
def moved(
    wanted: CommandOptions, address: str, since: str | None, no_reason: bool, most: int
) -> int:
    """List the values that changed most often after they were first written."""
    book = wanted.open()
    begin = book.moment(since) if since else None
    items = book.moved(address=address, since=begin)
    items = [item for item in items if not (no_reason and item.reasons)][:most]
    text = [["times", "record", "value", "net change", "unit", "reasons", "last"]]
    text += [_moved_row(item) for item in items]
    put_items(plain(items), text, wanted.form, clocks=_clocks(book, begin))
    return EXIT_DONE


def _moved_row(item: Moved) -> list[str]:
    where = [str(item.times), item.record, item.address]
    return [*where, signed(item.net), item.unit, str(item.reasons), moment(item.last)]


@click.command()
@click.argument("record")
@click.argument("address", default="positions")
@shared_options
def creep(wanted: CommandOptions, record: str, address: str) -> int:
    """Show how taught values went from run to run: slope per run, spread, and scatter."""
    items = wanted.open().creep(record, address)
    text = [["value", "runs", "first", "last", "unit", "per run", "spread", "scatter"]]
    text += [_creep_row(item) for item in items]
    put_items(plain(items), text, wanted.form)
    if not items and wanted.form == "text":
        say("three runs are needed to see a value creep")
    return EXIT_DONE


def _creep_row(item: Creep) -> list[str]:
    ends = [short(item.first), short(item.last), item.unit]
    estimates = [f"{item.slope:+.4f}", f"{item.spread:.4f}", f"{item.scatter:.4f}"]
    return [item.address, str(item.runs), *ends, *estimates]


@click.command("export-history")
@_PERSON
@_SINCE
@_ADDRESS
@_RECORD
@shared_options
def export_history(
    wanted: CommandOptions, by: str, since: str | None, address: str, record: str
) -> int:
    """Write every change of a value as CSV (or JSON), newest first, for a spreadsheet."""
    book = wanted.open()
    begin = book.moment(since) if since else None
    found = book.every_change(person=by, since=begin, address=address, name=record)
    rows = (flat(item) for item in found)
    clocks = _clocks(book, begin)
    if wanted.form == "json":
        stream_json(rows, clocks=clocks)
    else:
        stream_csv(rows)
    return EXIT_DONE
