"""Commands on the past of the whole book: history, stood, moved, creep, export-history.

They look and change nothing, so stopping one with Ctrl-C does no harm.
"""

from __future__ import annotations

import click

from engine.views import Creep, Moved, Stood, Traced
from schemas.errors import UsageError
from schemas.number import read_typed, spell
from tui.commands import plain, words
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put_items, say, stream_csv, stream_json

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
    moment = book.moment(since) if since else None
    if moment is not None:
        say(f"since {moment.isoformat(timespec='seconds')}")
    found = book.history(
        person=by, since=moment, address=address, name=record, without_reason=no_reason,
        page=page, per_page=per_page,
    )  # fmt: skip
    items = [plain.traced(item) for item in found.items]
    put_items(items, _rows(found.items), wanted.form, page=found.number, more=found.more)
    if wanted.form == "text":
        if not items:
            say("nothing was changed" if page == 1 else "there is no such page")
        if found.more:
            say(f"older changes follow: --page {page + 1}")
    return EXIT_DONE


def _rows(items: tuple[Traced, ...]) -> words.Rows:
    heading, *rows = words.trace_rows(items)
    return [
        ["record", *heading],
        *([item.document, *row] for item, row in zip(items, rows, strict=True)),
    ]


@click.command()
@click.argument("address")
@click.option("--below", metavar="NUMBER", help="Values below this.")
@click.option("--above", metavar="NUMBER", help="Values above this.")
@click.option("--on", "day", required=True, metavar="DAY", help="2026-03-02, yesterday, …")
@click.option("--ran", is_flag=True, help="Only records that ran with it on that day.")
@shared_options
def stood(
    wanted: CommandOptions, address: str, below: str | None, above: str | None, day: str, ran: bool
) -> int:
    """List the records in which a value lay within a range on a day, and the runs with it."""
    book = wanted.open()
    moment = book.moment(day)
    say(f"on {moment:%Y-%m-%d}")
    try:
        low, high = (read_typed(text) if text else None for text in (below, above))
    except ValueError as error:
        raise UsageError(str(error)) from None
    items = book.stood(address, moment, below=low, above=high)
    items = [item for item in items if item.runs or not ran]
    text = [["record", "value", "from", "unit", "runs", "commit"]]
    text += [_stood_row(item) for item in items]
    put_items([_stood(item) for item in items], text, wanted.form)
    if not items and wanted.form == "text":
        say("no record")
    return EXIT_DONE


def _stood(item: Stood) -> plain.Plain:
    return {
        "record": item.record,
        "address": item.address,
        "value": spell(item.value),
        "unit": item.unit,
        "commit": item.commit,
        "runs": list(item.runs),
    }


def _stood_row(item: Stood) -> list[str]:
    runs = ", ".join(map(str, item.runs))
    return [item.record, item.address, spell(item.value), item.unit, runs, item.commit[:10]]


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
    items = book.moved(address=address, since=book.moment(since) if since else None)
    items = [item for item in items if not (no_reason and item.reasons)][:most]
    text = [["times", "record", "value", "in all", "unit", "reasons", "last"]]
    text += [_moved_row(item) for item in items]
    put_items([_moved(item) for item in items], text, wanted.form)
    return EXIT_DONE


def _moved(item: Moved) -> plain.Plain:
    return {
        "record": item.record,
        "address": item.address,
        "unit": item.unit,
        "times": item.times,
        "net": None if item.net is None else spell(item.net),
        "last": plain.moment(item.last),
        "reasons": item.reasons,
    }


def _moved_row(item: Moved) -> list[str]:
    where = [str(item.times), item.record, item.address]
    return [*where, words.signed(item.net), item.unit, str(item.reasons), words.moment(item.last)]


@click.command()
@click.argument("record")
@click.argument("address", default="positions")
@shared_options
def creep(wanted: CommandOptions, record: str, address: str) -> int:
    """Show how taught values went from run to run: slope a run, spread, and scatter."""
    items = wanted.open().creep(record, address)
    text = [["value", "runs", "first", "last", "unit", "a run", "spread", "scatter"]]
    text += [_creep_row(item) for item in items]
    put_items([_creep(item) for item in items], text, wanted.form)
    if not items and wanted.form == "text":
        say("three runs are needed to see a value creep")
    return EXIT_DONE


def _creep(item: Creep) -> plain.Plain:
    return {
        "record": item.record,
        "address": item.address,
        "unit": item.unit,
        "runs": item.runs,
        "first": spell(item.first),
        "last": spell(item.last),
        "slope": round(item.slope, 6),
        "spread": round(item.spread, 6),
        "scatter": round(item.scatter, 6),
    }


def _creep_row(item: Creep) -> list[str]:
    ends = [spell(item.first), spell(item.last), item.unit]
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
    moment = book.moment(since) if since else None
    found = book.every_change(person=by, since=moment, address=address, name=record)
    rows = (_flat(item) for item in found)
    if wanted.form == "json":
        stream_json(rows)
    else:
        stream_csv(rows)
    return EXIT_DONE


def _flat(item: Traced) -> plain.Plain:
    """A change with nothing nested, so that each column holds one thing."""
    row = plain.traced(item)
    who, runs = row.pop("who"), row.pop("runs")
    del runs  # they would be worked out for each record anew
    return {**row, **who}
