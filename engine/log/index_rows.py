"""How rows of the index are packed: ids as bytes, the changes of one step as one text.

Packing and unpacking are inverse; what cannot be unpacked is `Damaged`.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from typing import NamedTuple

from engine.log.decisions import Decided
from engine.log.index_file import Damaged

BETWEEN, BESIDE = "\n", "\x1f"  # neither stands in a spelt value or in an address
COMPRESSED = b"\0"
_LONG = 500  # bytes of changes from which on they are compressed


def pack_ids(ids: Iterable[str], width: int) -> bytes:
    """Object ids as bytes, zeros for none."""
    return b"".join(bytes.fromhex(i) if i else bytes(width) for i in ids)


def unpack_ids(data: bytes, width: int) -> tuple[str, ...]:
    """The ids that `pack_ids` packed."""
    parts = (data[start : start + width] for start in range(0, len(data), width))
    return tuple(part.hex() if part.strip(b"\0") else "" for part in parts)


def pack_marks(*, whole: bool, summed: bool) -> int:
    """What is to be said of a commit beside who made it, as one number."""
    return int(whole) | int(summed) << 1


def unpack_marks(packed: int) -> tuple[bool, bool]:
    """`whole` and `summed`."""
    return bool(packed & 1), bool(packed & 2)


class Change(NamedTuple):
    """One change of a step: values spelt, and where a merge decided, between whose."""

    address: str
    old: str | None
    new: str | None
    decided: Decided | None = None


def pack_changes(rows: Iterable[Change]) -> bytes:
    """Changes as bytes: address, old and new, spelt; and where a merge decided, both commits."""
    text = BETWEEN.join(
        BESIDE.join((_sure(row.address), row.old or "", row.new or "", *(row.decided or ())))
        for row in rows
    )
    data = text.encode()
    return COMPRESSED + zlib.compress(data, 6) if len(data) > _LONG else data


def _sure(address: str) -> str:
    """An address without the signs that stand between fields (a hand edit may have any key)."""
    strange = address[:1] == '"' or not address.isprintable()
    return json.dumps(address) if strange else address


def unpack_changes(data: bytes) -> list[Change]:
    """The changes that `pack_changes` packed. Damaged where they cannot be read."""
    if not data:
        return []
    try:
        raw = zlib.decompress(data[1:]) if data[0] == 0 else data
        lines = raw.decode().split(BETWEEN)
        return [
            Change(
                json.loads(a) if a[:1] == '"' else a,
                old or None,
                new or None,
                Decided(*decided) if decided else None,
            )
            for a, old, new, *decided in (line.split(BESIDE) for line in lines)
        ]
    except (zlib.error, ValueError, TypeError) as error:
        raise Damaged("changes cannot be read") from error


def to_word(text: str) -> str | bytes:
    """A path or name as SQLite can hold it: bytes where git's is no UTF-8."""
    return text if text.isascii() or _sound(text) else text.encode("utf-8", "surrogateescape")


def _sound(text: str) -> bool:
    try:
        return bool(text.encode())
    except UnicodeEncodeError:
        return False


def from_word(word: str | bytes) -> str:
    """What `to_word` made something of."""
    return word if isinstance(word, str) else word.decode("utf-8", "surrogateescape")
