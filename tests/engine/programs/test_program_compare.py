"""What changed between two programs, in words; big texts stay bounded."""

import random
from collections.abc import Callable

import pytest

from engine.programs import ProgramChange, compare_programs
from engine.programs.alignment import stretches
from engine.programs.pairing import pairs
from tests.counting import steps

OLD = """%
O1000 (SIDE B)
N10 G21 G54 G90
N20 T1 M6
N30 S1000 M3
N40 G0 X0 Y0 (go)
N50 G1 X10 F200
N60 Y5
N70 M30
%
"""


def changes(old: str, new: str) -> list[tuple[str, str, str]]:
    return [(c.kind, c.old, c.new) for c in compare_programs(old.encode(), new.encode())]


def texts(old: str, new: str) -> list[str]:
    return [c.text for c in compare_programs(old.encode(), new.encode())]


@pytest.mark.parametrize(
    ("was", "now", "expected"),
    [
        ("F200", "F180", ("feed", "F200", "F180")),
        ("S1000", "S1200", ("speed", "S1000", "S1200")),
        ("T1 ", "T2 ", ("tool", "T1", "T2")),
        ("G54", "G55", ("offset", "G54", "G55")),
        ("X10", "X10.5", ("motion", "X10", "X10.5")),
        ("M30", "M99", ("end", "M30", "M99")),
        ("M3\n", "M4\n", ("code", "M3", "M4")),
        ("(go)", "(come)", ("comment", "(go)", "(come)")),
        ("N60", "/N60", ("block_delete", "", "/")),
        ("O1000", "O1001", ("program", "O1000", "O1001")),
        ("X10", "X#1", ("motion", "X10", "X#1")),
        ("X10", "X10.", ("spelling", "X10", "X10.")),
        ("F200", "", ("feed", "F200", "")),
        ("N60 Y5", "N60 Y5,6", ("line", "N60 Y5", "N60 Y5,6")),
        ("X10 F200", "X10 F2 00", ("layout", "", "1")),
    ],
)
def test_one_change_is_told_in_its_own_words(
    was: str, now: str, expected: tuple[str, str, str]
) -> None:
    assert changes(OLD, OLD.replace(was, now, 1)) == [expected]


def test_lines_that_have_nothing_in_common_are_two_lines() -> None:
    assert changes(OLD, OLD.replace("N60 Y5", "N60 M8")) == [
        ("lines_removed", "N60 Y5", ""),
        ("lines_added", "", "N60 M8"),
    ]


def test_lines_are_named_on_both_sides() -> None:
    new = OLD.replace("N60", "N55 Z-1\nN60").replace("M30", "M2")
    assert texts(OLD, new) == [
        "the program ends with M2, before with M30",
        "1 line added, line 8: N55 Z-1",
    ]
    assert texts(OLD, OLD.replace("N40", "M8\nN40").replace("Y5", "Y6"))[-1] == (
        "line 9 (was 8): motion Y5 -> Y6"
    )


def test_only_n_numbers() -> None:
    assert texts(OLD, OLD.replace("N", "N1")) == ["only N numbers changed on 7 lines"]
    assert texts(OLD, OLD.replace("N60 ", "")) == ["only N numbers changed on 1 line"]


def test_only_looks() -> None:
    assert changes(OLD, OLD.lower().replace("(side b)", "(SIDE B)")) == [("layout", "", "8")]
    assert texts(OLD, OLD.replace("G1 X10", "g 1x1 0")) == [
        "only blanks or letter case changed on 1 line"
    ]
    assert texts(OLD, OLD.replace("\n", "\r\n")) == ["only line ends or padding"]
    assert texts(OLD, OLD.replace("N40", "\n\nN40")) == ["blank lines: 0 -> 2"]
    assert changes(OLD, OLD) == []


def test_a_lost_percent_is_a_change() -> None:
    assert changes(OLD, OLD[2:]) == [("lines_removed", "%", "")]
    assert changes(OLD, OLD.replace("%\nO", "(x)\nO"))[0][0] == "lines_removed"


def test_codes_of_the_cells_own_end_a_program() -> None:
    new = OLD.replace("N70 M30", "N70 M347\nM99").encode()
    found = compare_programs(OLD.encode(), new, end_codes=["M347"])
    assert (found[0].kind, found[0].new) == ("end", "M347")


def test_texts_are_safe_to_show() -> None:
    for change in compare_programs(OLD.encode(), OLD.replace("go", "g\x1b[31m\x07\x9bo").encode()):
        assert change.text.isprintable()


def numbered(count: int, seed: int) -> list[bytes]:
    source = random.Random(seed)
    return [
        b"N%d G1 X%d Y%d" % (n % 99_999, source.randrange(10**6), n % 777) for n in range(count)
    ]


def test_two_edits_far_apart_in_a_long_program() -> None:
    old = numbered(60_000, 1)
    new = list(old)
    new[100] = new[100] + b" F300"
    new.insert(50_000, b"M8")
    found = compare_programs(b"\n".join(old), b"\n".join(new))
    assert [c.text for c in found] == [
        "line 101: feed none -> F300",
        "1 line added, line 50001: M8",
    ]


@pytest.mark.parametrize(
    "make",
    [
        lambda n: (numbered(n, 1), numbered(n, 2)),
        lambda n: ([b"G1 X1"] * n, [b"G1 X1", b"G1 Y2"] * (n // 2)),
        lambda n: ([b"G1 X1"] * n, [b"M8"] * (n * 2 // 3)),
    ],
)
def test_quite_other_programs_are_bounded(
    make: Callable[[int], tuple[list[bytes], list[bytes]]],
) -> None:
    def compare(lines: int) -> int:
        old, new = make(lines)
        return len(compare_programs(b"\n".join(old), b"\n".join(new)))

    assert 0 < compare(30_000) <= 501
    short, long = (steps(lambda n=n: compare(n)) for n in (2_000, 8_000))  # type: ignore[misc]
    assert long < 5 * short  # four times the lines


def test_big_texts_are_counted() -> None:
    old = b"\n".join([b"G21 G54", *numbered(200_000, 1), b"M30"])
    new = old.replace(b"G54", b"G55").replace(b"M30", b"S900\nM99")
    found: dict[str, ProgramChange] = {c.kind: c for c in compare_programs(old, new)}
    assert {"end", "counts", "offset", "speed"} <= set(found)
    assert found["offset"].new == "G55"


def test_stretches_cover_both_texts() -> None:
    source = random.Random(3)
    for _ in range(200):
        old, new = (
            [b"%d" % source.randrange(6) for _ in range(source.randrange(40))] for _ in range(2)
        )
        at = (0, 0)
        for same, first, last, new_first, new_last in stretches(old, new):
            assert (first, new_first) == at
            assert (old[first:last] == new[new_first:new_last]) or not same
            at = (last, new_last)
        assert at == (len(old), len(new))


def test_pairs_keep_order_and_lose_nothing() -> None:
    found = pairs([b"G1X1", b"M8", b"Y2"], [b"G1X2", b"Z5", b"M8", b"Y3"])
    assert found == [(0, 0), (None, 1), (1, 2), (2, 3)]
    assert pairs([b"X1"] * 300, [b"M1"] * 300) is None
