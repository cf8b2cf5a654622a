"""What is fed with bytes by a fuzzer, and what must hold for any bytes at all.

Each target takes bytes and raises AssertionError, or whatever fell over, where a promise is broken.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from decimal import Decimal
from functools import cache

from engine.merge.three_way import FITS, join
from engine.programs import MILLING, TURNING, compare_programs, read_line, read_program
from schemas.address import flatten, grow, lies_in, matches, natural, same_value, show
from schemas.document import check_tree, read_document
from schemas.errors import WitnessmarkError
from schemas.fields import describe, nearest
from schemas.record import Record, is_coupled, is_link, is_reading
from schemas.toml import read_toml, read_value, write_toml
from schemas.typed import describe_known, read_as
from tests.mini_book import SEAT, files

PATHS = tuple(path for path in files() if path.endswith(".toml"))


def toml(data: bytes) -> None:
    """A text of any kind of document is read or refused in words; what was read is written and
    read again.
    """
    path = PATHS[len(data) % len(PATHS)]
    for text in (data, *_spliced(path, data)):
        try:
            document = read_document(text, path)
        except WitnessmarkError as error:
            assert str(error), "refused without a word"  # noqa: PT017
            continue
        again = read_document(document.bytes, path)
        assert again.bytes == document.bytes, "the canonical text is none"
        assert set(again.values) == set(document.values)
        for address, value in document.values.items():
            assert same_value(value, again.values[address]), address
        assert check_tree(document.tree, path).bytes == document.bytes


@cache
def _lines(path: str) -> tuple[bytes, ...]:
    return tuple(files()[path].splitlines(keepends=True))


def _spliced(path: str, data: bytes) -> list[bytes]:
    """The bytes as a line, and as a value, of a sound text."""
    lines = list(_lines(path))
    at = (data[0] if data else 0) % len(lines)
    key, equals, _ = lines[at].partition(b" = ")
    value = [key + equals + data + b"\n"] if equals else [data + b"\n"]
    return [
        b"".join([*lines[:at], data, b"\n", *lines[at:]]),
        b"".join([*lines[:at], *value, *lines[at + 1 :]]),
    ]


def values(data: bytes) -> None:
    """One value's text is read or refused; a table that was read is written and says the same."""
    text = data.decode("utf-8", "replace")
    with suppress(ValueError, WitnessmarkError, RecursionError):
        read_value(text)
    try:
        parsed = read_toml(data, "x.toml")
    except WitnessmarkError:
        return
    try:
        written = write_toml(parsed.tree)
    except (WitnessmarkError, ValueError):
        return
    assert set(flatten(read_toml(written, "x.toml").tree)) == set(flatten(parsed.tree))


def addresses(data: bytes) -> None:
    """Any text may be asked for as an address, a pattern or a typed value."""
    text = data.decode("utf-8", "surrogateescape")
    address, _, value = text.partition("=")
    is_coupled(address), is_reading(address), is_link(address), nearest(Record, address)
    matches("positions.seat.reach", address), matches(address, "positions.*")
    lies_in(address, "positions"), natural(address), show(value)
    for each in (address, _KNOWN[len(data) % len(_KNOWN)]):
        describe(Record, each)
        try:
            read = read_as(describe_known(Record, each), value)
        except WitnessmarkError as error:
            assert str(error), "refused without a word"  # noqa: PT017
        else:
            assert same_value(read, read), "a value that is not itself"
            show(read)


_KNOWN = tuple(flatten(read_document(files()[f"records/{SEAT}.toml"], f"records/{SEAT}.toml").tree))


def programs(data: bytes) -> None:
    """No bytes make the reader of programs raise; a text differs from itself in nothing."""
    half = len(data) // 2
    for dialect in (MILLING, TURNING):
        facts = read_program(data, end_codes=["M30"], dialect=dialect)
        assert facts.lines >= 0
        assert compare_programs(data, data, dialect=dialect) == []
        for change in compare_programs(data[:half], data[half:], dialect=dialect):
            assert change.text
    for line in data.decode("latin-1").splitlines()[:20]:
        read_line(line)


def merge(data: bytes) -> None:
    """A merge holds what one side says, takes what one side alone changed, and says the rest."""
    names = ("jaws.bite", "blank.height", "positions.seat.reach", "lot.quantity", "notes.text",
    "tools.T04.what",
             "tools.T04.stick_out", "photos.jaws.file", "photos.jaws.sha256",
             "tools.T05.what")  # fmt: skip
    base, ours, shared = ({}, {}, {})  # type: dict[str, Value], dict[str, Value], dict[str, Value]
    for n, byte in enumerate(data[:60]):
        side = (base, ours, shared)[n % 3]
        name = names[byte % len(names)]
        if byte < 250:
            side[name] = Decimal(byte // 10)
        else:
            side.pop(name, None)
    group = (lambda a: FITS if is_coupled(a) else "") if data and data[0] % 2 else (lambda a: "")
    done = join([base], ours, shared, group)
    for address, value in done.values.items():
        assert any(
            address in side and same_value(side[address], value) for side in (ours, shared)
        ), address
    for address in {*ours, *shared}:
        one, other, was = ours.get(address), shared.get(address), base.get(address)
        if same_value(one, other):
            assert same_value(done.values.get(address), one) or group(address), (
                f"{address}: both say the same"
            )
        elif not group(address) and address not in (*done.contested, *done.kept):
            changed = other if same_value(one, was) else one
            assert same_value(done.values.get(address), changed), (
                f"{address}: one side alone changed it"
            )
    assert join([base], ours, ours, group).values == ours, "with itself it is what it was"
    assert not join([base], ours, base, group).contested, "only one side did anything"
    grow(done.values)


TARGETS: dict[str, Callable[[bytes], None]] = {
    "toml": toml, "values": values, "addresses": addresses, "programs": programs, "merge": merge,
}  # fmt: skip

SEEDS: dict[str, tuple[bytes, ...]] = {
    "toml": (b"reach = 1", b"[x]", b'a = """', b"nan", b"= 1e400", b"'''", b"\xff",
    b"a.b.c = [1,{x=2}]", b"2026-03-02"),
    "values": (b"a = 1", b"a = [1, {b = 2}]", b"a = 07:32:00", b'a = "\\u001B"', b"a.b.c = -inf",
    b"[[a]]\nb=1\n[[a]]"),
    "addresses": (b"positions.seat.reach=612.350", b"jaws.clamp_pressure=310 psi",
    b"blank.diameter=1 to 2", b"a..b=",
                  b"tools.T04.what=x", b"lot.stages=1, 2", b"jaws.bite=0.3 in",
                  b"tray.unused=r1c1"),
    "programs": (b"O1\nG0 X1. Y-2\nM30\n", b"%\nN10 G1 X#1 F[2*3]\n", b"(a) /G2 X1 I2 R3",
    b"#1=[SIN[30]]\nM98 P2 L3\nM99",
                 b"G71 U2 R1\nG33 Z-1 K1.5", b"G43 H1 T2 M6 S100 M3"),
    "merge": (bytes(range(30)), bytes(range(255, 200, -1)), b"\1" * 30, b"\0\1\2" * 10),
}  # fmt: skip
