"""Commands for figures, and for what follows from taught values: figures, expected, tray-fit.

Text shows what does not fit first, then every group; JSON has each kind's formula
and source once. Computed values are numbers, typed ones strings.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from schemas.errors import UsageError
from tui.commands import plain, words
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_csv, put_items, put_json, put_table, say

if TYPE_CHECKING:
    from engine.figures.model import Figure
    from engine.views import Expected, FittedTray

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
    found = book.figures(record, at)
    groups = list(dict.fromkeys(figure.group for figure in found))
    if group and group not in groups:
        raise UsageError(f"there is no group {group!r}", hint="One of: " + ", ".join(groups))
    chosen = [figure for figure in found if group in ("", figure.group)]
    items = [_plain(figure) for figure in chosen]
    if wanted.form == "json":
        kinds = {figure.kind.name: _kind(figure) for figure in chosen}
        put_json({"record": record, "mark": at, "kinds": kinds, "items": items})
    elif wanted.form == "csv":
        put_csv(items)
    else:
        _put_text(record, at, chosen)
    return EXIT_DONE


def _plain(figure: Figure) -> plain.Plain:
    """A figure: worked-out values are numbers."""
    return {
        "name": figure.name,
        "group": figure.group,
        "at": figure.at,
        "value": plain.rounded(figure.value),
        "unit": figure.unit,
        "limit": plain.rounded(figure.limit),
        "margin": plain.rounded(figure.margin),
        "verdict": figure.verdict,
        "kind": figure.kind.name,
        "missing": list(figure.missing),
        "note": figure.note,
    }


def _kind(figure: Figure) -> plain.Plain:
    kind = figure.kind
    return {
        "group": kind.group,
        "unit": kind.unit,
        "bound": kind.bound,
        "formula": kind.formula,
        "source": kind.source,
    }


def _put_text(record: str, at: str, found: Sequence[Figure]) -> None:
    from engine.figures import wording

    counts = ", ".join(wording.counted(found))
    put(f"{record} at {at}: {len(found)} figures: {counts}")
    for figure in wording.worst_first(found):
        put(f"{figure.verdict}: {figure.group}: {wording.figure_in_words(figure)}")
    for address, waits in wording.waiting(found).items():
        put(f"cannot tell: {address} is missing for {words.many(len(waits), 'figure')}")
    for group in dict.fromkeys(figure.group for figure in found):
        put(f"\n{group}")
        put_table(_rows([figure for figure in found if figure.group == group]))
    say(CAUTION)


def _rows(found: Sequence[Figure]) -> words.Rows:
    from engine.figures import wording

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
    items = book.expected_positions(record)
    if to_pencil:
        book.pencil_expected(record, addresses)
        say("in pencil, with the note `derived`; teach them before they are relied on")
    elif addresses:
        items = [item for item in items if item.address in addresses]
    if not items and wanted.form == "text":
        say("nothing follows: teach one position of each place, and see what `figures` misses")
    put_items([_expected(item) for item in items], _expected_rows(items), wanted.form)
    return EXIT_DONE


def _expected(item: Expected) -> plain.Plain:
    return {
        "address": item.address,
        "expected": plain.value(item.value),
        "taught": plain.value(item.taught),
        "unit": item.unit,
    }


def _expected_rows(items: Sequence[Expected]) -> words.Rows:
    rows = [["position", "expected", "taught", "unit", "difference"]]
    for item in items:
        difference = item.taught - item.value if item.taught is not None else None
        cells = [words.short(item.value), words.short(item.taught), item.unit]
        rows.append([item.address, *cells, words.signed(difference)])
    return rows


@click.command("tray-fit")
@click.argument("record")
@click.option("--pencil", "to_pencil", is_flag=True, help="Pencil the pitches that were found.")
@shared_options
def tray_fit(wanted: CommandOptions, record: str, to_pencil: bool) -> int:
    """Fit the grid of the tray through its taught pockets; name what the data cannot tell apart."""
    book = wanted.open()
    fit = book.tray_fit(record)
    if to_pencil:
        book.pencil_tray_fit(record)
        say("the pitches are in pencil, with the note `derived`")
    if wanted.form == "json":
        put_json({"record": record, **_fit(fit)})
    elif wanted.form == "csv":
        put_csv([_fit(fit)])
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
    found = book.refills(record, begin, percent, minutes * 60)
    items = [
        {
            "fill": f.number,
            "blanks": f.blanks,
            "begins": plain.moment(f.begins),
            "empty": plain.moment(f.empty),
            "done": plain.moment(f.done),
        }
        for f in found
    ]
    rows = [["fill", "blanks", "begins", "tray empty", "last part out"]]
    rows += [
        [str(f.number), str(f.blanks), *map(_by_the_clock, (f.begins, f.empty, f.done))]
        for f in found
    ]
    put_items(items, rows, wanted.form)
    say("A jam or a tool change comes on top. Lock out before you refill a live loader.")
    return EXIT_DONE


def _by_the_clock(when: datetime) -> str:
    """A moment with the name of its zone: one night a year has an hour twice."""
    return f"{words.moment(when)} {when:%Z}".rstrip()


def _moment(text: str) -> datetime:
    """A moment that may lie ahead; the machine's own clock where no offset is given."""
    try:
        return datetime.fromisoformat(text).astimezone()
    except ValueError:
        raise UsageError(f"{text!r} is no moment", hint="Write it as 2026-03-02T21:40.") from None


def _fit(fit: FittedTray) -> plain.Plain:
    return {
        "verdict": fit.verdict,
        "words": fit.words,
        "pitch_across": plain.value(fit.pitch_across),
        "pitch_along": plain.value(fit.pitch_along),
        "unit": fit.unit,
        "rotation": plain.rounded(fit.rotation),
        "skew": plain.rounded(fit.skew),
        "off": {pocket: plain.rounded(off) for pocket, off in fit.off.items()},
        "suspects": list(fit.suspects),
        "teach_next": fit.teach_next or None,
    }


def _put_fit(record: str, fit: FittedTray) -> None:
    put(f"{record}: {fit.verdict}{': ' if fit.words else ''}{fit.words}")
    for name, pitch in (("across", fit.pitch_across), ("along", fit.pitch_along)):
        if pitch is not None:
            put(f"pitch {name} {words.short(pitch)} {fit.unit}")
    for name, angle in (("rotation", fit.rotation), ("skew", fit.skew)):
        if angle is not None:
            put(f"{name} {angle:.3f} deg")
    rows = [["pocket", "from the grid of the others", ""]]
    for pocket, off in fit.off.items():
        suspect = "suspect" if pocket in fit.suspects else ""
        rows.append([pocket, "nothing checks it" if off is None else f"{off:.3f} mm", suspect])
    put_table(rows)
