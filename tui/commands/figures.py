"""Commands for figures, and for what follows from taught values: figures, expected, tray-fit.

Text shows what does not fit first, then every group; JSON has each kind's formula
and source once. Computed values are numbers, typed ones strings.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from engine.views.serialise import plain
from engine.views.wording import clock_times, count, short, signed
from engine.views.wording import figures as wording
from schemas.errors import UsageError
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_items, put_json, put_table, say
from tui.commands.tables import Rows

if TYPE_CHECKING:
    from engine.views import Expected, Figure, FittedTray

CAUTION = "Figures warn, they certify nothing: table values mislead and wet parts slip."


@click.command()
@click.argument("record")
@click.option("--at", default="now", metavar="MARK", help="now, pencil, ink-12, run-3, a commit.")
@click.option("--group", default="", help="One group only: hold, bite, tray, motion, ...")
@shared_options
def figures(wanted: CommandOptions, record: str, at: str, group: str) -> int:
    """Work out the figures of a record, now or as it stood at a mark.

    Cell and policy are those of the mark, too. Exit status 0 even where one does not fit:
    `check` finds that.
    """
    book = wanted.open()
    found = book.document(record).figures.all(at)
    groups = list(dict.fromkeys(figure.group for figure in found))
    if group and group not in groups:
        raise UsageError(f"there is no group {group!r}", hint="One of: " + ", ".join(groups))
    chosen = [figure for figure in found if group in ("", figure.group)]
    items = plain(chosen)
    if wanted.form == "json":
        kinds = {figure.kind.name: plain(figure.kind) for figure in chosen}
        put_json({"record": record, "mark": at, "kinds": kinds, "items": items})
    elif wanted.form == "csv":
        put_csv(items)
    else:
        _put_text(record, at, chosen)
    return EXIT_DONE


def _put_text(record: str, at: str, found: Sequence[Figure]) -> None:
    counts = ", ".join(wording.counted(found))
    put(f"{record} at {at}: {count(len(found), 'figure')}: {counts}")
    for figure in wording.worst_first(found):
        put(f"{figure.verdict}: {figure.group}: {wording.figure_in_words(figure)}")
    for address, waits in wording.waiting(found).items():
        put(f"cannot tell: {address} is missing for {count(len(waits), 'figure')}")
    for group in dict.fromkeys(figure.group for figure in found):
        put(f"\n{group}")
        put_table(_rows([figure for figure in found if figure.group == group]))
    say(CAUTION)


def _rows(found: Sequence[Figure]) -> Rows:
    rows = [["figure", "at", "value", "unit", "limit", "verdict", "note"]]
    for figure in found:
        unit = "" if figure.unit == "1" else figure.unit
        note = figure.note or ", ".join(figure.missing)
        value, limit = wording.number(figure.value, figure.unit), wording.against(figure)
        rows.append([figure.name, figure.at, value, unit, limit, figure.verdict, note])
    return rows


@click.command()
@click.argument("record")
@click.argument("addresses", nargs=-1, metavar="[ADDRESS]...")
@click.option("--pencil", "to_pencil", is_flag=True, help="Pencil what is not taught, or ADDRESS.")
@shared_options
def expected(
    wanted: CommandOptions, record: str, addresses: tuple[str, ...], to_pencil: bool
) -> int:
    """Show positions that follow from the first taught one of each place.

    With --pencil those that nobody taught go into pencil; those named go there in any case.
    """
    book = wanted.open()
    items = book.document(record).derived.expected()
    if to_pencil:
        book.document(record).derived.pencil_expected(addresses)
        say("in pencil, with the note `derived`; teach them before they are relied on")
    elif addresses:
        items = [item for item in items if item.address in addresses]
    if not items and wanted.form == "text":
        say("nothing follows: teach one position of each place, and see what `figures` misses")
    put_items(plain(items), _expected_rows(items), wanted.form)
    return EXIT_DONE


def _expected_rows(items: Sequence[Expected]) -> Rows:
    rows = [["position", "expected", "taught", "unit", "difference"]]
    for item in items:
        cells = [short(item.value), short(item.taught), item.unit]
        rows.append([item.address, *cells, signed(item.off)])
    return rows


@click.command("tray-fit")
@click.argument("record")
@click.option("--pencil", "to_pencil", is_flag=True, help="Pencil the pitches that were found.")
@shared_options
def tray_fit(wanted: CommandOptions, record: str, to_pencil: bool) -> int:
    """Fit the grid of the tray through its taught pockets; name what the data cannot tell apart."""
    book = wanted.open()
    fit = book.document(record).derived.tray_fit()
    if to_pencil:
        book.document(record).derived.pencil_tray_fit()
        say("the pitches are in pencil, with the note `derived`")
    if wanted.form == "json":
        put_json({"record": record, **plain(fit)})
    elif wanted.form == "csv":
        put_csv([plain(fit)])
    else:
        _put_fit(record, fit)
    return EXIT_DONE


@click.command()
@click.argument("record")
@click.option("--start", metavar="WHEN", help="2026-03-02T21:40 (default: now).")
@click.option(
    "--percent",
    type=click.FloatRange(0, 100, min_open=True),
    default=100.0,
    show_default=True,
    help="Percent of full speed.",
)
@click.option(
    "--minutes",
    type=click.FloatRange(0),
    default=0.0,
    show_default=True,
    help="What one refill takes.",
)
@shared_options
def refills(
    wanted: CommandOptions, record: str, start: str | None, percent: float, minutes: float
) -> int:
    """Tell when the tray runs empty and must be refilled, by the clock."""
    book = wanted.open()
    begin = _moment(start) if start else book.now()
    found = book.document(record).figures.refills(begin, percent, minutes * 60)
    rows = [["fill", "blanks", "begins", "tray empty", "last part out"]]
    times = iter(clock_times(when for f in found for when in (f.begins, f.empty, f.done)))
    rows += [[str(f.number), str(f.blanks), *(next(times) for _ in range(3))] for f in found]
    put_items(plain(found), rows, wanted.form)
    say("Jams and tool changes are not included. Lock out before you refill a live loader.")
    return EXIT_DONE


def _moment(text: str) -> datetime:
    """A moment that may lie ahead; the machine's own clock where no offset is given."""
    try:
        return datetime.fromisoformat(text).astimezone()
    except ValueError:
        raise UsageError(f"{text!r} is no moment", hint="Write it as 2026-03-02T21:40.") from None


def _put_fit(record: str, fit: FittedTray) -> None:
    put(f"{record}: {fit.verdict}{': ' if fit.words else ''}{fit.words}")
    for name, pitch in (("across", fit.pitch_across), ("along", fit.pitch_along)):
        if pitch is not None:
            put(f"pitch {name} {short(pitch)} {fit.unit}")
    for name, angle in (("rotation", fit.rotation), ("skew", fit.skew)):
        if angle is not None:
            put(f"{name} {angle:.3f} deg")
    rows = [["pocket", "from the grid of the others", ""]]
    for pocket, off in fit.off.items():
        suspect = "suspect" if pocket in fit.suspects else ""
        rows.append([pocket, "cannot be checked yet" if off is None else f"{off:.3f} mm", suspect])
    put_table(rows)
