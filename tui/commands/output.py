"""How answers leave the program: text for eyes, JSON and CSV for pipes.

Invariant: every byte on standard output and standard error goes through here, and none of
it steers a terminal. Text is aligned columns in the terminal's own characters, never
wrapped, never coloured, with a visible sign for each that does harm. JSON and CSV lose
nothing: such signs are spelt out, `\\u001b`, so a pipe gets the truth and a file of it can
be looked at. No cell of CSV is a formula. An answer that could not be written is never
taken for a whole one.
"""

from __future__ import annotations

import csv
import json
import os
import re
import sys
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from typing import Any, NoReturn

from schemas.errors import UsageError, WitnessmarkError
from tui.safe import NEW_LINE, REPLACED, encodable, safe, spelt_out

_TRUE_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?")
_FORMULA = ("=", "+", "-", "@", "\N{MINUS SIGN}")
_NOT_SEEN = (REPLACED, NEW_LINE, " ")
_TO_BREAK = frozenset("\t\r\n")  # a cell that begins with one is split by some programs
_SHORT = {"\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
_TO_SPELL = re.compile(r"[\\\n\r\t]")


class NobodyReads(Exception):
    """Who read the answer has gone (`| head`). No OSError: nobody else shall take it for theirs."""


class NotWritten(WitnessmarkError):
    """Standard output takes no more: a full disk, a closed descriptor."""

    def __init__(self, reason: str) -> None:
        super().__init__(
            f"the answer could not be written: {reason}",
            where="standard output",
            hint="It is not whole. What was saved is saved; ask again where there is room.",
        )


def say(text: str) -> None:
    """A message for the person, on standard error. A message that cannot be had stops nothing."""
    with suppress(OSError, ValueError):
        if sys.stdout is not None:
            sys.stdout.flush()  # what came before is shown before
    with suppress(OSError, ValueError):
        if sys.stderr is not None:
            harmless = encodable(safe(text, lines=True), sys.stderr.encoding or "ascii")
            sys.stderr.write(harmless + "\n")
            sys.stderr.flush()


def say_over(text: str) -> None:
    """The same in place of the last one, for what goes on meanwhile: one short line."""
    with suppress(OSError, ValueError):
        if sys.stderr is not None:
            sys.stderr.write(f"\r{encodable(safe(text), sys.stderr.encoding or 'ascii')}")
            sys.stderr.flush()


def put(text: str) -> None:
    """Data as text, on standard output."""
    _write(encodable(safe(text, lines=True), _encoding()) + "\n")


def put_bytes(data: bytes) -> None:
    """A file as it is, on standard output. UsageError where that is a terminal."""
    with _writing():
        if sys.stdout.isatty():
            raise UsageError(
                "standard output is a terminal, which would take a file's bytes for orders",
                hint="Name a file with -o FILE, or send it on: > FILE.",
            )
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()


def finish() -> None:
    """Write out what is still held back. NobodyReads or NotWritten where that cannot be done."""
    if sys.stdout is not None:
        with _writing():
            sys.stdout.flush()


@contextmanager
def _writing() -> Iterator[None]:
    """Errors of standard output as what they are; after one, nothing more goes there."""
    if sys.stdout is None:
        raise NotWritten("it is closed")
    try:
        yield
    except BrokenPipeError:
        let_go()
        raise NobodyReads from None
    except OSError as error:
        not_written(error)
    except ValueError as error:  # written to after it was closed
        raise NotWritten(str(error)) from error


def not_written(error: OSError) -> NoReturn:
    """Write nothing more, and raise NotWritten."""
    let_go()
    raise NotWritten(error.strerror or str(error)) from error


def let_go() -> None:
    """Let nothing be written to standard output any more, at the program's end neither."""
    with suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _encoding() -> str:
    return (sys.stdout.encoding if sys.stdout is not None else None) or "ascii"


def _write(text: str) -> None:
    with _writing():
        sys.stdout.write(text)


def put_json(data: Mapping[str, Any]) -> None:
    """One document: `{"format": 1, …}`."""
    _write(_json({"format": 1, **data}, indent=2) + "\n")


def _json(data: Any, indent: int | None = None) -> str:
    """JSON in which every sign that does harm is spelt out, as JSON itself allows."""
    text = json.dumps(data, ensure_ascii=False, indent=indent)
    encoding = _encoding()
    return "\n".join(spelt_out(line, encoding) for line in text.split("\n"))


class _Rows:
    """Rows of CSV on standard output."""

    def __init__(self) -> None:
        self._writer = csv.writer(self, lineterminator="\n")

    def write(self, text: str) -> None:
        """Take one line from the writer."""
        _write(text)

    def put(self, cells: Iterable[Any]) -> None:
        """Write one row."""
        self._writer.writerow([_cell(value) for value in cells])


def put_csv(rows: Sequence[Mapping[str, Any]]) -> None:
    """One line for each item; nested things become JSON in their cell."""
    if not rows:
        return
    names = list(dict.fromkeys(name for row in rows for name in row))
    out = _Rows()
    out.put(names)
    for row in rows:
        out.put(row.get(name) for name in names)


def stream_csv(rows: Iterable[Mapping[str, Any]]) -> None:
    """The same, row by row: memory does not grow with their number. All have the same names."""
    out = _Rows()
    for n, row in enumerate(rows):
        if not n:
            out.put(row)
        out.put(row.values())


def stream_json(items: Iterable[Mapping[str, Any]], **more: Any) -> None:
    """`{"format": 1, …, "items": […]}`, item by item."""
    head = _json({"format": 1, **more})
    _write(f'{head[:-1]}, "items": [')
    for n, item in enumerate(items):
        _write(("," if n else "") + "\n" + _json(item))
    _write("\n]}\n")


def _cell(value: Any) -> str:
    """A cell: text with backslashes as in a JSON string, or JSON; never a formula."""
    if value is None:
        return ""
    if not isinstance(value, str):
        return _json(value)  # begins with a digit, a bracket, a word, or is a true number
    text = spelt_out(_TO_SPELL.sub(lambda found: _SHORT[found[0]], value), _encoding())
    return f"'{text}" if _could_be_a_formula(value) else text


def _could_be_a_formula(text: str) -> bool:
    """Whether some spreadsheet would work it out; what cannot be seen in front hides nothing."""
    if _TRUE_NUMBER.fullmatch(text):
        return False
    if text.startswith("'"):  # one more: the first is always ours
        return True
    at = next((n for n, sign in enumerate(text) if safe(sign) not in _NOT_SEEN), len(text))
    if not _TO_BREAK.isdisjoint(text[:at]):
        return True
    return unicodedata.normalize("NFKC", text[at : at + 1]).startswith(_FORMULA)


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
    if len(rows) < 2:
        return
    from rich.cells import cell_len

    encoding = _encoding()
    clean = [[encodable(safe(cell), encoding) for cell in row] for row in rows]
    widths = [max(cell_len(row[n]) for row in clean) for n in range(len(clean[0]))]
    for row in clean:
        padded = (
            cell + " " * (width - cell_len(cell)) for cell, width in zip(row, widths, strict=True)
        )
        _write("  ".join(padded).rstrip() + "\n")
