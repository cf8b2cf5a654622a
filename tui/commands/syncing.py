"""The command that lets boxes meet: sync."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from engine.views.serialise import plain
from engine.views.wording import ago, count, moment, short
from tui.commands.frame import EXIT_DONE, EXIT_REFUSED, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_json, put_table, say

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Arrived, Disputed, Sent, Synced, Waiting

MOST_LINES = 40  # of one kind, as text; JSON has all
_STAYS = ("it stays, changed", "the change stays")


@click.command()
@click.option(
    "--with",
    "place",
    metavar="PLACE",
    default="",
    help="Where to meet from now on: a folder, or ssh://user@host/path/to/book.git.",
)
@click.option("--waiting", "only_waiting", is_flag=True, help="Only tell what waits to be shared.")
@click.option(
    "--accept-rewritten",
    is_flag=True,
    help="Join both pasts where somebody rewrote the one at the meeting point.",
)
@shared_options
def sync(wanted: CommandOptions, place: str, only_waiting: bool, accept_rewritten: bool) -> int:
    """Take in what other boxes shared, merge value by value, and share what was inked here."""
    book = wanted.open()
    if only_waiting:
        return _put_waiting(book, book.waiting(), wanted.form)
    tell = _progress()
    done = book.sync(place, accept_rewritten=accept_rewritten, tell=tell)
    if wanted.form == "json":
        put_json(plain(done))
    elif wanted.form == "csv":
        put_csv(plain(done.came))
    else:
        _put(book, done)
    if done.problem:
        say(f"witnessmark: not everything could be shared: {done.problem}")
        say(f"  {_waits(len(done.waiting))} and will go with the next `witnessmark sync`.")
        return EXIT_REFUSED
    return EXIT_DONE


def _progress() -> Callable[[str], None]:
    """Says what goes on where somebody watches; nothing in a pipe."""
    return (lambda text: say(f"… {text}")) if sys.stderr.isatty() else (lambda _: None)


def _waits(number: int) -> str:
    return f"{count(number, 'commit')} {'waits' if number == 1 else 'wait'}"


def _put_waiting(book: Book, item: Waiting, form: str) -> int:
    """What waits, without looking anywhere."""
    if form == "json":
        put_json(plain(item))
    elif form == "csv":
        put_csv(plain(item.commits))
    elif not item.where:
        say("no meeting point is set; `witnessmark sync --with PLACE` sets one")
    else:
        seen = ago(item.seen, book.now()) if item.seen else "not yet"
        say(f"{item.where}, last looked at {seen}: {_waits(len(item.commits))}")
        _put_sent("waits", item.commits)
    return EXIT_DONE


def _put(book: Book, done: Synced) -> None:
    rows = [["came in", "value", "from", "to", "unit", "who", "commit"]]
    put_table([*rows, *(_arrived_row(item) for item in done.came[:MOST_LINES])])
    left = len(done.came) - MOST_LINES
    if left > 0:
        put(f"and {left} more; JSON lists them")
    for path in done.files[:MOST_LINES]:
        put(f"came in: {path}")
    _put_sent("went out", done.went)
    for item in done.contested:
        put(_disputed_line(item))
    for message in done.messages:
        say(f"note: {message}")
    counts = [
        f"{count(len(done.came), 'change')} came in",
        f"{count(len(done.went), 'commit')} went out",
        *([f"{count(len(done.contested), 'value')} contested"] if done.contested else []),
    ]
    say(f"{book.name} and {done.where}: {', '.join(counts)}")
    if done.contested:
        say("  `witnessmark pencil RECORD --keep` keeps what was set aside, `--rub-out` drops it")
        say("  and keeps the shared value. Whoever's pencil it is decides.")
    if any(message.endswith(_STAYS) for message in done.messages):
        say("  What was taken out and stays is listed by `witnessmark check` until somebody takes")
        say("  it out again, inks it anew, or says with `witnessmark acknowledge` that it stays.")
    if done.came:
        say("  Nothing was confirmed at the machine by this: read values back there.")


def _put_sent(what: str, items: tuple[Sent, ...]) -> None:
    rows = [[what, "when", "who", "what"]]
    rows += [
        [item.commit[:10], moment(item.when), item.who.name, item.subject]
        for item in items[:MOST_LINES]
    ]
    put_table(rows)
    if len(items) > MOST_LINES:
        put(f"and {len(items) - MOST_LINES} more; JSON lists them")


def _arrived_row(item: Arrived) -> list[str]:
    if item.change is None:
        return [item.document, item.what, "", "", "", item.who.name, item.commit[:10]]
    old, new = short(item.change.old, 24), short(item.change.new, 24)
    unit, who = item.change.unit, item.who.name
    return [item.document, item.change.address, old, new, unit, who, item.commit[:10]]


def _disputed_line(item: Disputed) -> str:
    by = item.shared_by.name if item.shared_by else "others"
    unit = f" {item.unit}" if item.unit else ""
    why, aside_why = (f": {r}" if r else "" for r in (item.shared_reason, item.aside_reason))
    return (
        f"contested: {item.document} {item.address}: {short(item.shared) or 'nothing'}{unit} "
        f"({by}{why}) stands, {short(item.aside) or 'nothing'}{unit} ({item.aside_by.name}, "
        f"{item.aside_commit[:10]}{aside_why}) is in pencil"
    )
