"""Commands that look and change nothing: list, show, marks, check, diff, trace."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from engine.views.serialise import plain, positions, value
from engine.views.wording import clock_words, finding_words, moment, moved_words, short
from schemas.address import flatten
from schemas.errors import UsageError
from tui.commands import tables
from tui.commands.frame import EXIT_DONE, EXIT_FOUND, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_items, put_json, put_table, say

if TYPE_CHECKING:
    from engine.book import Book, DocumentHandle
    from engine.views import Comparison, FigureChange, Finding

NO_FINDINGS = "No findings. That is no approval: prove out as always."


def named(book: Book, record: str) -> DocumentHandle:
    """A document that stands in a book or once stood there; what else had its name is told."""
    document = book.document(record)
    _tell_namesakes(document.name, document.namesakes())
    return document


def _tell_namesakes(name: str, others: list[str]) -> None:
    for other in others:
        say(f"{name} was also the name of {other}")


@click.command("list")
@click.option("--retired", is_flag=True, help="Show retired records too.")
@click.option("--taken-out", is_flag=True, help="Show what was taken out of the book instead.")
@click.option("--no-wait", is_flag=True, help="Leave open (…, null) what is not worked out yet.")
@shared_options
def list_command(wanted: CommandOptions, retired: bool, taken_out: bool, no_wait: bool) -> int:
    """List the records: links, pencil, last run, what changed since."""
    book = wanted.open()
    if taken_out:
        gone = book.taken_out()
        put_items(plain(gone), tables.taken_out_rows(gone), wanted.form)
        if not gone and wanted.form == "text":
            say("nothing was taken out of this book")
        return EXIT_DONE
    items = book.list_records(retired=retired, wait=not no_wait)
    for trouble in book.pencil_troubles():
        say(f"note: {trouble}")
    if wanted.form == "text":  # of thousands, what is not asked for is not put into words
        put_table(tables.list_rows(items, book.now()))
    else:
        put_items(plain(items), [], wanted.form, past=plain(book.past_errors()))
    return EXIT_DONE


@click.command()
@click.argument("record")
@click.option(
    "--at",
    default="now",
    metavar="MARK",
    help="now, pencil, ink-12, run-3, sign-off-1, or a commit.",
)
@shared_options
def show(wanted: CommandOptions, record: str, at: str) -> int:
    """Show a record as it stands, or as it stood at a mark."""
    past = named(wanted.open(), record).past
    shown = past.show(at)
    status = EXIT_FOUND if shown.problems else EXIT_DONE
    if wanted.form == "json":
        put_json(plain(shown))
        return status
    values = flatten(shown.values)
    units = {a: d.unit if (d := past.describe(a)) else "" for a in values}
    if wanted.form == "csv":
        put_csv([{"address": a, "value": value(v), "unit": units[a]} for a, v in values.items()])
    else:
        say(f"{shown.document} at {shown.mark} ({shown.commit[:10]})")
        put_table(
            [
                ["value", "", "unit"],
                *([a, short(v, 60), units[a]] for a, v in values.items()),
            ]
        )
        if shown.text is not None:
            put(shown.text)
    for problem in shown.problems:
        say(f"! {problem}")
    return status


@click.command()
@click.argument("record")
@shared_options
def marks(wanted: CommandOptions, record: str) -> int:
    """List the marks of a record: inks, runs, sign-offs, newest first."""
    book = wanted.open()
    items = named(book, record).past.marks()
    put_items(plain(items), tables.mark_rows(items, book.own_logins()), wanted.form)
    return EXIT_DONE


@click.command()
@click.argument("records", nargs=-1, metavar="[RECORD]...")
@click.option(
    "--objects",
    is_flag=True,
    help="Instead, read every object of the history and hold it against its name: takes a while.",
)
@shared_options
def check(wanted: CommandOptions, records: tuple[str, ...], objects: bool) -> int:
    """Check links, values and history; exit status 1 where there is an error."""
    if objects and records:
        raise UsageError("--objects looks at the whole book", hint="Leave the records out.")
    items = _check_objects(wanted) if objects else wanted.open().check(records)
    if wanted.form == "text":
        for item in items:
            for line in tables.finding_lines(item):
                put(line)
        none = "Every object is what its name says." if objects else NO_FINDINGS
        say(finding_words(items) or none)
    else:
        put_items(plain(items), [], wanted.form)
    return EXIT_FOUND if any(item.level == "error" for item in items) else EXIT_DONE


def _check_objects(wanted: CommandOptions) -> list[Finding]:
    from engine.book import Book

    if not sys.stderr.isatty():
        return Book.check_objects(Path(wanted.book))
    from tui.commands.progress import Reading

    reading = Reading("looking at the history: {count:,} objects (Ctrl-C stops)")
    try:
        return Book.check_objects(Path(wanted.book), reading)
    finally:
        reading(0)


@click.command()
@click.argument("names", nargs=-1, metavar="[RECORD] [FROM] [TO]")
@click.option(
    "--since-run",
    is_flag=False,
    flag_value="",
    default=None,
    metavar="[N]",
    help="Since the last run that was stopped, or since run N.",
)
@click.option("--since-sign-off", is_flag=True, help="Since the last sign-off.")
@click.option(
    "--since",
    "when",
    metavar="WHEN",
    help="Since 2026-03-02, 2026-03-02T07:15, yesterday, 'last week', '3 weeks'.",
)
@click.option("--all", "every", is_flag=True, help="Over all records.")
@shared_options
def diff(
    wanted: CommandOptions,
    names: tuple[str, ...],
    since_run: str | None,
    since_sign_off: bool,
    when: str | None,
    every: bool,
) -> int:
    """Compare two marks value by value; exit status 1 where something differs.

    Without marks: what is inked against your pencil. With FROM only: FROM against now.
    """
    book = wanted.open()
    words_left = list(names)
    if since_run and not since_run.isdigit():  # `--since-run RECORD`: no number was meant
        words_left, since_run = [since_run, *words_left], ""
    ways = [since_run is not None, since_sign_off, when is not None]
    if sum(ways) > 1:
        raise UsageError("only one of --since-run, --since-sign-off and --since can be asked for")
    begin = book.moment(when) if when is not None else None
    if begin is not None:
        say(f"since {moment(begin)}")
    records = (
        [item.record for item in book.list_records(findings=False)] if every else (words_left[:1])
    )
    marks = words_left if every else words_left[1:]
    if not records or len(marks) > 2 or (any(ways) and marks):
        raise UsageError(
            "which record, and between which marks?",
            hint="diff RECORD [FROM [TO]], or diff --all --since WHEN.",
        )

    told = book.since(begin, records) if every and begin is not None else {}

    def one(name: str) -> Comparison:
        if name in told:
            _tell_namesakes(name, book.namesakes(name))
            return told[name]
        past = named(book, name).past
        if since_run is not None:
            return past.since_run(int(since_run) if since_run else None)
        if since_sign_off:
            return past.since_sign_off()
        if begin is not None:
            return past.since(begin)
        return past.compare(*([*marks, "now"] if marks else ["now", "pencil"])[:2])

    return _put_comparisons(book, _each(records, one, every), wanted.form)


def _each(records: list[str], one: Callable[[str], Comparison], every: bool) -> list[Comparison]:
    """Comparisons of all records; where all were asked for, those that have none are told."""
    found = []
    for name in records:
        try:
            found.append(one(name))
        except UsageError as error:
            if not every:
                raise
            say(f"{name}: {error.what}")
    return found


def _consequences(book: Book, item: Comparison) -> list[FigureChange]:
    """What the changes of a comparison do to the figures."""
    ends = [
        "pencil" if label == "pencil" else commit
        for label, commit in ((item.start, item.start_commit), (item.end, item.end_commit))
    ]
    return (
        book.document(item.document).figures.consequences(*ends)
        if item.changes and all(ends)
        else []
    )


def _put_comparisons(book: Book, items: list[Comparison], form: str) -> int:
    differ = any(item.changes or item.unreadable for item in items)
    clocks = next((item.clocks for item in items if item.clocks), None)
    for words in clock_words(clocks):
        say(words)
    figures = {item.document: _consequences(book, item) for item in items}
    if form == "text":
        for item in items:
            if item.changes or item.unreadable or len(items) == 1:
                put(tables.heading(item))
                put_table(tables.change_rows(item.changes))
                for moved in item.positions:
                    put(f"position {moved_words(moved)}")
                for line in tables.figure_change_lines(figures[item.document]):
                    put(line)
        if len(items) > 1 and not differ:
            put("nothing differs")
    else:
        compared = [
            {
                **{"record": i.document, "from": i.start, "to": i.end, "respelt": i.respelt},
                "unreadable": list(i.unreadable),
            }
            for i in items
        ]
        put_items(
            [c for item in items for c in plain(item)],
            [],
            form,
            compared=compared,
            clocks=plain(clocks),
            positions=[p for i in items for p in positions(i)],
            figures=[
                {"record": i.document, **plain(f)} for i in items for f in figures[i.document]
            ],
        )
    return EXIT_FOUND if differ else EXIT_DONE


@click.command()
@click.argument("record")
@click.argument("address")
@click.option(
    "--through-copies", is_flag=True, help="Go on into the record that this one was copied from."
)
@shared_options
def trace(wanted: CommandOptions, record: str, address: str, through_copies: bool) -> int:
    """Show the life of a value, of a whole position or of a section, oldest first."""
    book = wanted.open()
    items = named(book, record).past.trace(address, through_copies=through_copies)
    if not items and wanted.form == "text":
        say(f"{address} never had a value")
    put_items(plain(items), tables.trace_rows(items, book.own_logins()), wanted.form)
    return EXIT_DONE
