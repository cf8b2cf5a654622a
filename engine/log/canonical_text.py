"""Values as text on one line, and a fast reader of texts that our own writer wrote.

Two promises, both tested: `unspell(spell(value))` is the value, whatever TOML can
hold; and where `read_canonical` answers, it answers exactly what the full reader
would, spelt, at present addresses whatever the text's format. It answers None for any
text that has a single line which the writer would not have written, and for one of a
format from which more than names changed: then the full reader has the word.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from functools import lru_cache

from schemas.address import Value, same_value
from schemas.number import as_it_stands
from schemas.toml import MOST_BYTES, read_value, spell_value
from schemas.upgrade import moves

Spelt = dict[str, str]

_NUMBER = r"-?(?:0|[1-9][0-9]{0,19})(?:\.[0-9]{1,20})?"
_TIME = "[0-9]{2}:[0-9]{2}:[0-9]{2}"
_MOMENT = rf"{_TIME}|[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}(?: {_TIME}(?:[+-][0-9]{{2}}:[0-9]{{2}})?)?"
_PLAIN = r'"[^"\\\x00-\x08\x0a-\x1f\x7f]*"'  # nothing in it had to be escaped
BARE = rf"{_PLAIN}|{_NUMBER}|true|false|nan|-?inf"
_SCALAR = rf'(?:{BARE}|({_MOMENT})|("(?:[^"\\\n]|\\[^\n])*"))'
_VALUE = re.compile(rf"([A-Za-z0-9_-]+) = (?:({_SCALAR})|(\[\])|(\[))")
_ITEM = re.compile(rf"    ({_SCALAR}),")
_HEADER = re.compile(r"\[([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+){0,5})\]")
_NO_ZERO = re.compile(r"-0(?:\.0*)?")  # zero has no sign
_QUICK_NUMBER, _QUICK_TEXT = re.compile(_NUMBER), re.compile(_PLAIN)


def spell(value: Value) -> str:
    """Any value that TOML can hold, on one line; numbers as typed."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{spell(key)} = {spell(item)}" for key, item in value.items())
        return "{" + inner + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(spell, value)) + "]"
    try:
        return spell_value(value)
    except ValueError:  # a number that no field accepts, from a hand edit
        return _odd_number(value)


def _odd_number(value: Value) -> str:
    assert isinstance(value, int | Decimal)
    text = as_it_stands(value)
    if isinstance(value, Decimal) and value.is_finite() and not set(text) & set(".e"):
        return f"{text}.0"
    return text


@lru_cache(maxsize=50_000)
def unspell(text: str) -> Value:
    """The value that `spell` spelt. Do not change it in place: it is remembered.

    A whole number comes back as Decimal too, as from most fields; the two are equal.
    """
    if _QUICK_NUMBER.fullmatch(text):
        return Decimal(text)
    return _with_decimals(parsed(text))


@lru_cache(maxsize=50_000)
def parsed(text: str) -> Value:
    """The same as a parser gives it: a whole number as int. It is remembered, too."""
    if _QUICK_TEXT.fullmatch(text):
        return text[1:-1]
    if _QUICK_NUMBER.fullmatch(text):
        return Decimal(text) if "." in text else int(text)
    found: Value = read_value(text)
    return found


def _with_decimals(value: Value) -> Value:
    if isinstance(value, list):
        return [_with_decimals(item) for item in value]
    return Decimal(value) if isinstance(value, int) and not isinstance(value, bool) else value


def differ(one: str | None, other: str | None) -> bool:
    """Whether two spelt values are different values; 28 and 28.0 are not."""
    if one == other:
        return False
    if one is None or other is None:
        return True
    return not same_value(unspell(one), unspell(other))


@dataclass(frozen=True, slots=True)
class Canonical:
    """A text in the writer's own spelling, and what is known of its shape."""

    data: bytes
    shape: Shape


@dataclass(frozen=True, slots=True)
class Shape:
    """The names of a text's tables, as they stand there, and the number of its format."""

    tables: frozenset[str]
    format: str


def read_canonical(kind: str | None, data: bytes) -> tuple[Spelt, Shape] | None:
    """Every value of a canonical text, spelt, and its shape; None for any other text."""
    if len(data) > MOST_BYTES:
        return None
    reader = _Reader()
    if not reader.read(data):
        return None
    number = reader.values.get("format", "")
    found = brought_up(kind, number, reader.values)
    return None if found is None else (found[0], Shape(frozenset(reader.tables), number))


def brought_up(kind: str | None, number: str, *texts: Spelt) -> tuple[Spelt, ...] | None:
    """Spelt values of a format at their present addresses; None where that takes full reading."""
    steps = moves(kind or "", int(number)) if number.isdigit() else []
    if not steps:
        return texts if steps is not None else None
    found = []
    for values in texts:
        addresses = list(values)
        for moved in steps:
            addresses = list(map(moved, addresses))
        made = dict(zip(addresses, values.values(), strict=True))
        if len(made) != len(values):  # a value stands there under its old and its new name
            return None
        if "format" in made:
            made["format"] = str(int(number) + len(steps))
        found.append(made)
    return tuple(found)


class _Reader:
    """Reads lines; stops at the first that the writer would not have written."""

    def __init__(self) -> None:
        self.values: Spelt = {}
        self.headers: set[str] = set()
        self.tables: set[str] = set()  # headers and the tables above them
        self._prefix = ""

    def read(self, data: bytes) -> bool:
        """Whether all of it could be read."""
        try:
            lines = iter(data.decode("utf-8").split("\n"))
        except UnicodeDecodeError:
            return False
        for line in lines:
            if not line:
                continue
            if line[0] == "[":
                if not self._header(line):
                    return False
                continue
            found = _VALUE.fullmatch(line)
            if found is None:
                return False
            key, scalar, moment, escaped, _, opened = found.groups()
            if scalar is None:
                text = self._list(lines) if opened else "[]"
            else:
                text = checked(scalar, moment, escaped)
            address = self._prefix + key
            if not text or address in self.values or address in self.tables:
                return False
            self.values[address] = text
        return True

    def _header(self, line: str) -> bool:
        found = _HEADER.fullmatch(line)
        if found is None or found[1] in self.headers or found[1] in self.values:
            return False
        name = found[1]
        self.headers.add(name)
        self._prefix = f"{name}."
        while name and name not in self.tables:
            if name in self.values:
                return False
            self.tables.add(name)
            name = name.rpartition(".")[0]
        return True

    @staticmethod
    def _list(lines: object) -> str:
        items: list[str] = []
        for line in lines:  # type: ignore[attr-defined]
            if line == "]":
                return "[" + ", ".join(items) + "]" if items else ""
            found = _ITEM.fullmatch(line)
            text = checked(found[1], found[2], found[3]) if found else ""
            if not text:
                return ""
            items.append(text)
        return ""


def checked(scalar: str, moment: str | None, escaped: str | None) -> str:
    """The scalar if it stands as the writer would write it, or nothing."""
    if moment is not None:
        return _checked_moment(moment)
    if escaped is not None:
        return _checked_escapes(escaped)
    if scalar[0] == "-" and _NO_ZERO.fullmatch(scalar):
        return ""
    return scalar


def _checked_moment(text: str) -> str:
    kind = datetime if len(text) > 10 else date if len(text) > 8 else time
    try:
        read = kind.fromisoformat(text)
    except ValueError:
        return ""
    return text if str(read) == text else ""


def _checked_escapes(text: str) -> str:
    try:
        value = tomllib.loads(f"x = {text}")["x"]
    except tomllib.TOMLDecodeError:
        return ""
    return text if spell_value(value) == text else ""


def changed_tables(
    kind: str | None, olds: Sequence[Canonical], new: bytes
) -> tuple[list[Spelt], Spelt] | None:
    """The values in those tables of some texts in which a byte differs from a new one.

    As far as what differs goes, equal to reading all in full. None where the new text has to
    be read in full, or another one: it has other tables, or is not canonical.
    """
    shape = olds[0].shape
    if any(old.shape != shape for old in olds[1:]):
        return None
    rows = _tables_apart([text.split(b"\n[") for text in (*(old.data for old in olds), new)])
    if rows is None:
        return None
    readers = [_Reader() for _ in (*olds, new)]
    for row in rows:
        whole = [b"[" + table for table in row]
        if not (
            _changed_lines(whole, readers)
            or all(reader.read(table) for reader, table in zip(readers, whole, strict=True))
        ):
            return None
    if not shape.tables.isdisjoint(readers[-1].values):
        return None
    found = brought_up(kind, shape.format, *(reader.values for reader in readers))
    return None if found is None else (list(found[:-1]), found[-1])


def _tables_apart(texts: list[list[bytes]]) -> list[list[bytes]] | None:
    """The tables in which texts differ, whatever their order; None where one has other ones."""
    first, *others = texts
    if any(len(text) != len(first) or text[0] != first[0] for text in others):
        return None  # the number of the format stands at the beginning
    rows = [list(row) for row in zip(*texts, strict=True) if row.count(row[0]) < len(row)]
    if any(len(set(map(_named, row))) > 1 for row in rows):
        by_name = [{_named(table): table for table in column} for column in zip(*rows, strict=True)]
        names = by_name[0].keys()
        if len(names) < len(rows) or any(column.keys() != names for column in by_name):
            return None
        rows = [[column[name] for column in by_name] for name in names]
    ends = [[table.rstrip(b"\n") for table in row] for row in rows]  # the last has no empty line
    return [row for row in ends if row.count(row[0]) < len(row)]


def _named(table: bytes) -> bytes:
    return table.partition(b"\n")[0]


def _changed_lines(tables: list[bytes], readers: list[_Reader]) -> bool:
    """Take in what differs between tables where only scalars of the same keys do.

    Nothing else can then have changed: no key came or went, so none can stand twice.
    """
    texts = [table.split(b"\n") for table in tables]
    if any(len(text) != len(texts[0]) for text in texts):
        return False
    found = []
    for row in zip(*texts, strict=True):
        if row.count(row[0]) == len(row):
            continue
        try:
            read = [_VALUE.fullmatch(line.decode("utf-8")) for line in row]
        except UnicodeDecodeError:
            return False
        keys = {match and match[1] for match in read}
        said = [checked(m[2], m[3], m[4]) if m and m[2] else "" for m in read]
        if len(keys) > 1 or not all(said):
            return False
        found.append((keys.pop(), said))
    name = texts[0][0][1:-1].decode("utf-8")
    for key, said in found:
        for reader, text in zip(readers, said, strict=True):
            reader.values[f"{name}.{key}"] = text
    return True
