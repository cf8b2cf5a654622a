"""Journals of pencil that nobody typed: forged marks, wrong types, strange names, a colleague's
mess.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial

from tests.campaigns.hostile.input import Input, Room
from tests.mini_book import SEAT_ID

NAME = "journals"
ADDRESSES = ("record.id", "record.cell", "record", "format", "positions", "positions.seat",
"positions.seat.reach",
             "lot.quantity", "notes.text", "program.file", "program.sha256", "photos.jaws.file",
             "no.such.field", "",
             ".", "a..b", "a\nb", "__class__", "x" * 5000, "tools.T04", "tools.T99.what",
             "\x1b[2J")  # fmt: skip
VALUES: dict[str, object] = {
    "number": 7, "text": "wm-other", "spelt number": "613.250", "negative": -1, "list": [1, 2],
    "table": {"a": 1},
    "none": None, "true": True, "path out": "../../outside/kept.txt",
    "escapes": "\x1b]0;x\x07\u202e\u200b",
    "long": "x" * 70000, "large": "1e400", "nan": "nan", "date": "2026-03-02", "formula": "=cmd()",
}  # fmt: skip
PEOPLE = ("mira", "ole", "stranger", "..x", "mi ra", "\xe9")
PARTS = (
    "do",
    "at",
    "draft",
    "base",
    "commit",
    "id",
    "marks",
    "person",
    "address",
    "value",
    "n",
    "seq",
)


def inputs() -> Iterator[Input]:
    """Marks by address and value, in somebody's own journal and in a colleague's; real lines
    spoilt.
    """
    for n, address in enumerate(ADDRESSES):
        for m, (name, value) in enumerate(VALUES.items()):
            who = PEOPLE[(n + m) % len(PEOPLE)]
            yield Input(
                NAME, f"{address[:40]!r} = {name} by {who!r}", partial(_forged, address, value, who)
            )
    for part in PARTS:
        for name in ("none", "list", "table", "number", "long", "true"):
            yield Input(
                NAME, f"real lines whose {part} is {name}", partial(_spoilt, part, VALUES[name])
            )


def _real_lines(room: Room) -> list[dict[str, object]]:
    """What the program writes for two values in pencil, one of them rubbed out."""
    from tests.campaigns.acts import opened

    book = opened(room.book)
    book.document(SEAT_ID).pencil.set("positions.seat.reach", "613.250")
    book.document(SEAT_ID).pencil.set("lot.quantity", "12")
    book.document(SEAT_ID).pencil.rub_out(["lot.quantity"])
    book.close()
    file = room.private / f"pencil/mira/{SEAT_ID}.jsonl"
    return [json.loads(line) for line in file.read_text().splitlines()]


def _write(room: Room, person: str, lines: list[dict[str, object]]) -> None:
    text = "".join(json.dumps(line) + "\n" for line in lines)
    room.write(f".git/witnessmark/pencil/{person}/{SEAT_ID}.jsonl", text)


def _forged(address: str, value: object, person: str, room: Room) -> None:
    """A real line, with this address and value wherever it has one."""
    made = [_changed(line, {"address": address, "value": value}) for line in _real_lines(room)[:1]]
    _write(room, person, made)


def _spoilt(part: str, value: object, room: Room) -> None:
    _write(room, "mira", [_changed(line, {part: value}, always=True) for line in _real_lines(room)])


def _changed(
    line: dict[str, object], parts: dict[str, object], *, always: bool = False
) -> dict[str, object]:
    made = {key: parts.get(key, value) for key, value in line.items()}
    for key, value in line.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            made[key] = [_changed(each, parts) for each in value]
    return {**made, **parts} if always else made
