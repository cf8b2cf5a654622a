"""Bytes in any pieces, in any amount: the same facts, in bounded memory, without an exception."""

import io
import tracemalloc
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, cast

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from engine.programs import TURNING, compare_programs, read_program
from engine.programs.stream import lines_of


class Pieces:
    """A stream that gives pieces of its own choosing, whatever is asked for."""

    def __init__(self, pieces: Iterator[bytes]) -> None:
        self.pieces = pieces

    def read(self, _size: int = -1) -> bytes:
        return next((piece for piece in self.pieces if piece), b"")


def in_pieces(data: bytes, sizes: list[int]) -> BinaryIO:
    def cut() -> Iterator[bytes]:
        at = turn = 0
        while at < len(data):
            size = sizes[turn % len(sizes)]
            yield data[at : at + size]
            at, turn = at + size, turn + 1

    return cast("BinaryIO", Pieces(cut()))


PROGRAM = (
    b"\xef\xbb\xbf%\r\nO1000 (caf\xc3\xa9)\rN10 g21 g17 g90\n\nT1 M6\r\nS1200 M3\nG0 X0 Y0 Z5.\r\n"
    b"g1 z-1 f100\nG2 X10 Y0 I5 J0\n/M99\nM98 P2000 L3\nM30\n\nO2000\nG91 G1 X1 F50\nM99\n%\nrest"
)
LETTERS = st.sampled_from(
    [f"G{n}" for n in (0, 1, 2, 3, 4, 10, 17, 18, 20, 21, 28, 43, 53, 54, 54.1, 80, 81, 90, 91)]
    + [f"G{n}" for n in (92, 93, 94, 95, 96, 97, 99)]
    + [f"M{n}" for n in (0, 1, 2, 3, 6, 30, 98, 99)]
    + list("XYZAIJKRFSTPQLNOHUW/%();#[]=,.-10")
    + ["2.5", "-3.", "1000", "IF", "GOTO", "\r", "\n", "\t", "\x00"]
)
TEXTS = st.lists(LETTERS, max_size=120).map(lambda parts: " ".join(parts).encode())


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(st.just(PROGRAM), TEXTS, st.binary(max_size=400)),
    st.lists(st.integers(1, 40), min_size=1, max_size=6),
)
def test_pieces_do_not_matter(data: bytes, sizes: list[int]) -> None:
    assert read_program(in_pieces(data, sizes)) == read_program(data)


@settings(max_examples=300, deadline=None)
@given(st.one_of(TEXTS, st.binary(max_size=600)))
def test_no_bytes_raise(data: bytes) -> None:
    facts = read_program(data, end_codes=["M347"], door_codes=["M371"])
    read_program(data, dialect=TURNING)
    assert facts.size == len(data)
    assert facts.problems.count >= len(facts.problems)


NUMBERS = st.sampled_from(["0", "1", "2.5", "-3.", "+.5", "10", "-0", "00012.50"])
COMMON = st.builds(
    lambda head, words, tail: head + " ".join(words) + tail,
    st.sampled_from(["", "", "N5", "/", "n 10 ", "%", "O7"]),
    st.lists(
        st.one_of(
            st.sampled_from(["G0", "G01", "G2", "g3", "G20", "G21", "G90", "G91", "G18", "G93"]),
            st.sampled_from(["G95", "G94", "S500", "M30", "G81", "G80", "M98 P7", "G53", "G28"]),
            st.sampled_from(["T5", "M6", "M3", "G54.1 P2", "M-3", "G92", "M99 P3", "G4", "G10 L2"]),
            st.sampled_from(["X1000000001", "Y-9999999999", "Z1.2.3", "F1000000001", "X", "Y-"]),
            st.builds(str.__add__, st.sampled_from("XYZIJKRF"), NUMBERS),
        ),
        max_size=6,
    ),
    st.sampled_from(["", "", "(c)", " ; c", "(", ")", "(a)(b)", "; a ) ("]),
)


@settings(max_examples=400, deadline=None)
@given(st.lists(COMMON, max_size=25))
@example(["O7G91", "G2 X0"])  # an increment from nowhere is no arc
@example(["O7G91", "G1 X0", "G20", "X1"])
def test_long_way_and_short_way_agree(lines: list[str]) -> None:
    """The short way of the commonest lines says exactly what the long one does."""
    data = "\n".join(["G1 X1 Y1 Z1", *lines]).encode()
    short = read_program(data, door_codes=["M3", "G21"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("engine.programs.quick._match", lambda _text: None)
        assert read_program(data, door_codes=["M3", "G21"]) == short
        patch.setattr("engine.programs.block._plain", lambda _text: None)
        assert read_program(data, door_codes=["M3", "G21"]) == short


@settings(max_examples=200, deadline=None)
@given(st.one_of(TEXTS, st.binary(max_size=300)), st.one_of(TEXTS, st.binary(max_size=300)))
def test_comparing_never_raises_and_sees_every_difference(old: bytes, new: bytes) -> None:
    assert (compare_programs(old, new) == []) is (old == new)


def test_line_ends_may_be_mixed() -> None:
    """NISTIR 6556, 3.3 (from memory): carriage return or line feed or both end a line."""
    assert list(lines_of([b"a\r", b"\nb\rc\n\nd"])) == [b"a", b"b", b"c", b"", b"d"]
    assert list(lines_of([b"a\r", b"\x00", b"\nb"])) == [b"a", b"b"]
    assert list(lines_of([b"a\n", b"\x00\x00"])) == [b"a"]
    assert list(lines_of([b"\n\n", b"\n"])) == [b"", b"", b""]


@pytest.mark.parametrize("noise", [b"\x00" * 3000, b"\x1a", b"\x13", b"\n\n\t \n"])
def test_padding_at_the_end_is_nothing(noise: bytes) -> None:
    """NULs, end marks and device controls: common practice, no source."""
    facts = read_program(b"G21\nG1 X1 F100\nM30" + noise)
    assert facts.ending is not None
    assert (facts.ending.line, facts.problems.count, facts.after_end) == (3, 0, None)


def test_byte_order_marks_and_16_bit_text() -> None:
    assert read_program(b"\xef\xbb\xbf%\nM30\n%\n").problems.count == 0
    wide = read_program("%\nG21\nM30\n%\n".encode("utf-16"))
    assert [problem.kind for problem in wide.problems] == ["encoding"]
    assert wide.ending is not None


def test_comments_in_any_encoding() -> None:
    for text in (b"(caf\xe9) M30", "(café) M30".encode(), b"(\xff\xfe) M30"):
        assert read_program(text).problems.count == 0


def test_a_file_is_read_by_name(tmp_path: Path) -> None:
    file = tmp_path / "part.nc"
    file.write_bytes(PROGRAM)
    assert read_program(file) == read_program(str(file)) == read_program(PROGRAM)
    with pytest.raises(FileNotFoundError):
        read_program(tmp_path / "none.nc")
    with pytest.raises(TypeError, match="stream of bytes"):
        read_program(cast("BinaryIO", io.StringIO("M30")))


def test_a_code_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="not a code"):
        read_program(b"M30", end_codes=["M"])


def megabytes(count: int) -> Iterator[bytes]:
    """A long program: moves, comments, feeds that keep changing, subprograms, garbage."""
    yield b"%\nO1 (LONG)\nG21 G90 G17 G54\nT1 M6\nS900 M3\nG0 X0 Y0 Z5.\n"
    comment = b"(" + b"c" * 200 + b")\n"
    for block in range(count * 4):
        lines = [
            b"N%d G1 X%d.125 Y%d.5 F%d." % (n, n, block % 7, block * 50 + n) for n in range(50)
        ]
        moves = b"\n".join(lines) + b"\nM8\nT%d\nS%d\nG%d\n?!\n" % (block, block, block % 99)
        yield moves + comment * ((250_000 - len(moves)) // len(comment))
    yield b"M30\n%\n"


def test_memory_does_not_grow_with_the_program() -> None:
    tracemalloc.start()
    try:
        facts = read_program(cast("BinaryIO", Pieces(megabytes(20))))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert facts.size > 19_000_000
    assert facts.ending is not None
    assert not facts.feeds.complete
    assert peak < 8_000_000


@pytest.mark.parametrize("fill", [b"X", b"1", b"(", b"#", b"%", b"G1X1", b"\x00", b" "])
def test_a_line_without_end_is_bounded_too(fill: bytes) -> None:
    tracemalloc.start()
    try:
        piece = fill * (65536 // len(fill))
        facts = read_program(
            cast("BinaryIO", Pieces(iter([b"M8\n"] + [piece] * 150 + [b"\nM30\n"])))
        )
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 4_000_000
    if fill not in {b"%"}:
        assert facts.ending is not None
