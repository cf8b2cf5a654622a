"""Bytes in, lines out, in bounded memory: a line is cut at `KEPT` + 1 bytes, however long it is.

How the bytes are cut into chunks changes nothing. CR LF, LF and CR each end a
line (NISTIR 6556, 3.3: "carriage return or line feed or both"; from memory).
NUL, DEL, the four device controls and SUB are dropped wherever they stand:
tape leader, padding and end marks, common practice.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

from .words import LINE_KEPT

CHUNK = 1 << 16
KEPT = LINE_KEPT
_DROPPED = bytes([0x00, 0x11, 0x12, 0x13, 0x14, 0x1A, 0x7F])

TextSource = BinaryIO | bytes | bytearray | memoryview | str | os.PathLike[str]


def chunks_of(source: TextSource) -> Iterator[bytes]:
    """The source's bytes, piece by piece. A str or path is a file's name.

    Raises OSError if the file cannot be read, TypeError if a stream gives text.
    """
    if isinstance(source, (str, os.PathLike)):
        with Path(source).open("rb") as file:
            yield from _pieces(file)
    elif isinstance(source, (bytes, bytearray, memoryview)):
        view = memoryview(source).cast("B")
        for start in range(0, len(view), CHUNK):
            yield bytes(view[start : start + CHUNK])
    else:
        yield from _pieces(source)


def _pieces(stream: BinaryIO) -> Iterator[bytes]:
    while piece := stream.read(CHUNK):
        if not isinstance(piece, bytes):
            raise TypeError("a program is read from a stream of bytes, not of text")
        yield piece


def lines_of(chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Lines without their end marks, each at most `KEPT` + 1 bytes long."""
    for lines in pieces_of(chunks):
        yield from lines


def pieces_of(chunks: Iterable[bytes]) -> Iterator[list[bytes]]:
    """The same lines, as many at a time as a chunk brings; no list is empty."""
    tail = b""
    after_return = False
    for chunk in chunks:
        data = chunk.translate(None, _DROPPED)
        if not data:
            continue
        if after_return and data.startswith(b"\n"):
            data = data[1:]
        after_return = data.endswith(b"\r")
        parts = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
        parts[0] = tail + parts[0]
        tail = parts.pop()[: KEPT + 1]
        if parts:
            longest = max(map(len, parts))
            yield parts if longest <= KEPT else [part[: KEPT + 1] for part in parts]
    if tail:
        yield [tail]
