"""Commands that make files for the shop: the set-up sheet and the tray plate.

A file that is there already is never written over without --force. `-` writes
to standard output, and nothing else goes there then.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from engine.views.serialise import plain
from tui.commands.frame import EXIT_DONE, CommandOptions, shared_options
from tui.commands.output import put, put_bytes, put_csv, put_json, say

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Paper

_OUTPUT = click.option(
    "-o", "--output", default="", metavar="FILE", help="Where to write it; - is standard output."
)
_FORCE = click.option("--force", is_flag=True, help="Write over a file that is there.")
_AT = click.option(
    "--at", default="now", metavar="MARK", help="now, ink-12, run-3, sign-off-1, or a commit."
)


@click.command()
@click.argument("record")
@_OUTPUT
@_AT
@click.option("--pencil", is_flag=True, help="Print my pencil beside the ink, marked as pencil.")
@_FORCE
@shared_options
def sheet(
    wanted: CommandOptions, record: str, output: str, at: str, pencil: bool, force: bool
) -> int:
    """Print the set-up sheet of a record as PDF, to hang at the machine.

    Its QR code names book, record and commit, so that a paper can be told current or superseded.
    """
    book = wanted.open()
    paper = book.document(record).papers.sheet(at, pencil=pencil)
    return _put_paper(book, paper, output, force, wanted.form)


@click.command()
@click.argument("record")
@click.option("--form", "kind", type=click.Choice(["dxf", "svg"]), default="dxf", show_default=True,
              help="Form of the drawing.")  # fmt: skip
@_OUTPUT
@_AT
@click.option("--kerf", default="", metavar="WIDTH",
              help="Width of the cut, measured; cuts are shifted by half of it.")  # fmt: skip
@click.option("--relief", default="", metavar="RADIUS",
              help="Relieve the corners of rectangular pockets by this radius.")  # fmt: skip
@click.option("--holes", default="", metavar="DIAMETER@INSET",
              help="Four fixing holes, their middles so far from both edges.")  # fmt: skip
@_FORCE
@shared_options
def plate(
    wanted: CommandOptions,
    record: str,
    kind: Literal["dxf", "svg"],
    output: str,
    at: str,
    kerf: str,
    relief: str,
    holes: str,
    force: bool,
) -> int:
    """Draw the tray plate of a record as DXF or SVG, in the record's unit.

    Sizes are nominal unless a kerf is given.
    """
    book = wanted.open()
    paper = book.document(record).papers.plate(kind, at, kerf=kerf, relief=relief, holes=holes)
    return _put_paper(book, paper, output, force, wanted.form)


def _put_paper(book: Book, paper: Paper, output: str, force: bool, form: str) -> int:
    for note in paper.notes:
        say(f"note: {note}")
    if output == "-":
        put_bytes(paper.data)
        return EXIT_DONE
    target = book.save_paper(paper, Path(output), over=force)
    told = {**plain(paper), "file": str(target)}
    if form == "json":
        put_json(told)
    elif form == "csv":
        put_csv([told])
    else:
        put(str(target))
    return EXIT_DONE
