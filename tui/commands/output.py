"""How answers leave the program: text for eyes, JSON and CSV for pipes.

Text is aligned columns in the terminal's own characters, never wrapped, never
coloured: a pipe sees what a person sees. Foreign text is made safe for a
terminal in text, quoted in JSON, and kept from being a formula in CSV.
"""

from __future__ import annotations

import csv
import json
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import click

from tui.safe import safe

_TRUE_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def say(text: str) -> None:
    """A message for the person, on standard error."""
    click.echo(safe(text, lines=True), err=True)


def put(text: str) -> None:
    """Data as text, on standard output."""
    click.echo(safe(text, lines=True))


def put_json(data: Mapping[str, Any]) -> None:
    """One document: `{"format": 1, …}`."""
    click.echo(json.dumps({"format": 1, **data}, ensure_ascii=False, indent=2))


def put_csv(rows: Sequence[Mapping[str, Any]]) -> None:
    """One line for each item; nested things become JSON in their cell."""
    if not rows:
        return
    writer = csv.writer(sys.stdout, lineterminator="\n")
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer.writerow(names)
    for row in rows:
        writer.writerow([_cell(row.get(name)) for name in names])


def stream_csv(rows: Iterable[Mapping[str, Any]]) -> None:
    """The same, row by row: memory does not grow with their number. All have the same names."""
    writer = csv.writer(sys.stdout, lineterminator="\n")
    for n, row in enumerate(rows):
        if not n:
            writer.writerow(list(row))
        writer.writerow([_cell(value) for value in row.values()])


def stream_json(items: Iterable[Mapping[str, Any]], **more: Any) -> None:
    """`{"format": 1, …, "items": […]}`, item by item."""
    head = json.dumps({"format": 1, **more}, ensure_ascii=False)
    click.echo(f'{head[:-1]}, "items": [', nl=False)
    for n, item in enumerate(items):
        click.echo(("," if n else "") + "\n" + json.dumps(item, ensure_ascii=False), nl=False)
    click.echo("\n]}")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    formula = text.startswith(_FORMULA) and not _TRUE_NUMBER.fullmatch(text)
    return f"'{text}" if formula else text


def put_items(
    items: Sequence[Mapping[str, Any]], text: Sequence[Sequence[str]], form: str, **more: Any
) -> None:
    """Items in the wanted form; `text` is the same as rows of columns, the first a heading."""
    if form == "json":
        put_json({**more, "items": list(items)})
    elif form == "csv":
        put_csv(items)
    else:
        put_table(text)


def put_table(rows: Sequence[Sequence[str]]) -> None:
    """Rows in aligned columns, two spaces between them; trailing space is cut."""
    clean = [[safe(cell) for cell in row] for row in rows]
    if len(clean) < 2:
        return
    from rich.cells import cell_len

    widths = [max(cell_len(row[n]) for row in clean) for n in range(len(clean[0]))]
    for row in clean:
        padded = (
            cell + " " * (width - cell_len(cell)) for cell, width in zip(row, widths, strict=True)
        )
        click.echo("  ".join(padded).rstrip())
