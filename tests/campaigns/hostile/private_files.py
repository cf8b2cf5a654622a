"""The program's own files in the book and in the person's cache, in every wrong shape."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial

from tests.campaigns.hostile.input import Input, Room
from tests.campaigns.hostile.repositories import SHAPES, clear
from tests.mini_book import SEAT_ID

NAME = "private files"
JOURNAL = f"pencil/mira/{SEAT_ID}.jsonl"
FILES = ("", "intent.json", "lock", "sync-lock", "met.json", "formats.json", "aside", "pencil",
"pencil/mira",
         JOURNAL, f"pencil/ole/{SEAT_ID}.jsonl", "pencil/stranger/odd.jsonl", "tree-left", "found",
         "acknowledged.json")  # fmt: skip
JSON_FILES = ("intent.json", "met.json", "formats.json", "acknowledged.json", JOURNAL)
DEEP = "[" * 20000 + "]" * 20000
VALUES = {
    "null": "null", "a number": "1", "a text": '"text"', "a list": "[]", "a table": "{}",
    "deep": DEEP,
    "deep tables": '{"a":' * 9000 + "1" + "}" * 9000, "not a number": "NaN", "large": "1e999",
    "not UTF-8": "\udcff", "nothing at all": "", "long": '"' + "x" * 3_000_000 + '"',
}  # fmt: skip
_OIDS = ("0" * 40, "f" * 40, "HEAD", "--output=x", "a\nb", "")
_PATHS = (
    "../../outside/kept.txt",
    "/etc/hostname",
    ".git/config",
    "records/seat-op10.toml",
    "a\nb",
    "",
    "-x",
)


def inputs() -> Iterator[Input]:
    """Each file in each shape, with each value, and intents that name what they should not."""
    for file in FILES:
        for shape, lay in SHAPES.items():
            path = f".git/witnessmark/{file}".rstrip("/")
            refusable = file == "" and "link" in shape
            yield Input(
                NAME,
                f"{file or 'folder'} is {shape}",
                partial(_shaped, path, lay),
                past=not refusable,
            )
    for file in JSON_FILES:
        for name, text in VALUES.items():
            yield Input(NAME, f"{file} holds {name}", partial(_holds, file, text))
    for path in _PATHS:
        for commit in ("head", *_OIDS):
            yield Input(NAME, f"intent on {path!r} by {commit!r}", partial(_intent, path, commit))
    for key in ("paths", "behind", "pencil", "aside", "parent", "commit"):
        for name, text in VALUES.items():
            if name not in ("nothing at all", "not UTF-8", "long"):
                yield Input(NAME, f"intent whose {key} is {name}", partial(_intent_part, key, text))


def _shaped(path: str, lay, room: Room) -> None:
    clear(room, path)
    lay(room, path)


def _holds(file: str, text: str, room: Room) -> None:
    room.write(f".git/witnessmark/{file}", text.encode("utf-8", "surrogateescape") + b"\n")


def _intent_of(
    room: Room, path: str = "records/seat-op10.toml", commit: str = "head"
) -> dict[str, object]:
    head = room.plain("rev-parse", "HEAD").strip()
    mine = head if commit == "head" else commit
    return {"commit": mine, "parent": room.plain("rev-parse", "HEAD^").strip(), "pencil": None,
            "paths": [path], "aside": [], "behind": {path: "0" * 40}}  # fmt: skip


def _intent(path: str, commit: str, room: Room) -> None:
    room.write(".git/witnessmark/intent.json", json.dumps(_intent_of(room, path, commit)))


def _intent_part(key: str, text: str, room: Room) -> None:
    intent = {**_intent_of(room), key: "@"}
    room.write(".git/witnessmark/intent.json", json.dumps(intent).replace('"@"', text))
