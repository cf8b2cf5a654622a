"""One line of program text: the standard's rules, the trade's habits and garbage.

NISTIR 6556 is Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3, 2000.
Its 2.2.2, 3.1, 3.3, 3.5 and 3.6 were read in a public transcription, not in NIST's own
file; finer section numbers are from memory.
"""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.programs import canonical_code, read_line


def words(text: str) -> list[tuple[str, Decimal | None]]:
    return [(word.letter, word.value) for word in read_line(text).words]


def kinds(text: str) -> list[str]:
    return [problem.kind for problem in read_line(text).problems]


def test_blanks_inside_words_mean_nothing() -> None:
    """NISTIR 6556, 3.3: `g0x +0. 12 34y 7` is `g0 x+0.1234 y7` (the report's own example)."""
    assert words("g0x +0. 12 34y 7") == words("G0 X+0.1234 Y7")
    assert words("G\t0\tX 1") == [("G", Decimal(0)), ("X", Decimal(1))]


@pytest.mark.parametrize("text", ["M30", "m30", "M 3 0", "m 03 0", "M030.", "M30.0", "m\t3\t0"])
def test_one_code_has_one_spelling(text: str) -> None:
    """NISTIR 6556, 3.3: `M 3 0` is M30; leading zeros, 3.3.2.1."""
    assert [word.code for word in read_line(text).words] == ["M30"]
    assert canonical_code(text) == "M30"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("G01", "G1"),
        ("g00", "G0"),
        ("G54.1", "G54.1"),
        ("G059.30", "G59.3"),
        ("M0", "M0"),
        ("G.5", "G0.5"),
    ],
)
def test_codes_keep_their_fraction_and_lose_leading_zeros(text: str, code: str) -> None:
    assert canonical_code(text) == code


@pytest.mark.parametrize("text", ["", "M", "30", "M-3", "M3 M4", "M#1", "M" + "3" * 5000, "É3"])
def test_what_is_no_code_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a code"):
        canonical_code(text)


def test_a_line_has_block_delete_number_and_words_in_this_order() -> None:
    """NISTIR 6556, 3.3: an optional `/`, an optional line number, then the rest."""
    line = read_line("/N0010 G1 X-.5")
    assert (line.block_delete, line.n, line.problems) == (True, 10, [])
    assert line.words[1].value == Decimal("-0.5")
    assert "slash" in kinds("N10 /M30")
    assert read_line("N10 /M30").block_delete


def test_numbered_block_delete_is_common_practice() -> None:
    assert read_line("/2 M99").block_delete
    assert [w.code for w in read_line("/2 M99").words] == ["M99"]


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("N0", True),
        ("N99999", True),
        ("N100000", False),
        ("N000009", False),
        ("N1.5", False),
        ("N-1", False),
    ],
)
def test_line_numbers_have_a_range(text: str, good: bool) -> None:
    """NISTIR 6556, 3.3.1: 0 to 99999, at most five digits (000009 is not OK)."""
    assert ("line_number" not in kinds(text + " G1 X1")) is good


def test_line_number_must_come_first() -> None:
    assert kinds("G1 N10 X1") == ["line_number"]


@pytest.mark.parametrize(("length", "good"), [(256, True), (257, False)])
def test_a_line_has_at_most_256_characters(length: int, good: bool) -> None:
    """NISTIR 6556, 3.3."""
    text = "G1 X1 (" + "a" * (length - 8) + ")"
    assert len(text) == length
    assert ("too_long" not in kinds(text)) is good
    assert "too_long" not in kinds(text[:256] + "\r\n")


def test_comments_do_not_nest_and_close_on_their_line() -> None:
    """NISTIR 6556, 3.3: ( ) comments."""
    assert read_line("G1 (M30) X1").comments[0].text == "M30"
    assert words("G1 (M30) X1") == [("G", Decimal(1)), ("X", Decimal(1))]
    assert "comment_nested" in kinds("(a (b) c)")
    assert kinds("G1 X1 (never closed M30") == ["comment_open"]
    assert words("G1 X1 (never closed M30") == [("G", Decimal(1)), ("X", Decimal(1))]
    assert kinds("G1 ) X1") == ["comment_close"]


def test_semicolon_comments_are_common_practice() -> None:
    line = read_line("G1 X1 ; (M30) ( M99")
    assert [c.mark for c in line.comments] == [";"]
    assert line.problems == []
    assert read_line("(a ; b) M8").words[0].code == "M8"


def test_a_comment_does_not_join_what_it_parts() -> None:
    assert "no_value" in kinds("M(x)30")
    assert all(word.code != "M30" for word in read_line("M(x)30").words)


@pytest.mark.parametrize(
    "text", ["#1=2", "#1=#2+3", "#<depth>=[#1*2]", "#[1+2]=SIN[30]", "# 3 = ATAN[1]/[2]"]
)
def test_parameters_are_recognised_and_not_evaluated(text: str) -> None:
    """NISTIR 6556, 3.3.2 and 3.3.3 (from memory); unbracketed sums: common practice."""
    line = read_line(text + " M8")
    assert [item.kind for item in line.not_evaluated] == ["parameter"]
    assert [word.code for word in line.words] == ["M8"]
    assert line.problems == []


@pytest.mark.parametrize("text", ["X#1", "X[1+[2*3]]", "X-#<a>", "X-[3]", "X##2", "XSQRT[4]"])
def test_expressions_are_values_that_are_not_known(text: str) -> None:
    line = read_line("G1 " + text + "Y2")
    assert line.words[1].value is None
    assert line.words[2].value == 2
    assert line.problems == []


@pytest.mark.parametrize(
    "text",
    [
        "IF[#1GT2]GOTO100",
        "WHILE[#1LT5]DO1",
        "END1",
        "GOTO10",
        "o100 sub",
        "O<part> call [1]",
        "DPRNT[X#1]",
    ],
)
def test_flow_is_recognised_and_not_followed(text: str) -> None:
    """Common practice, no source."""
    line = read_line(text)
    assert {item.kind for item in line.not_evaluated} == {"flow"}
    assert (line.words, line.problems, line.o) == ([], [], None)


def test_words_after_a_condition_are_marked() -> None:
    line = read_line("IF [#1 EQ 0] M99")
    assert line.conditional
    assert line.words[0].code == "M99"


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("X1..2", "number"), ("X1,5", "number"), ("X--3", "number"), ("X", "no_value"),
        ("GO X1", "no_value"), ("G-1", "number"), ("?", "character"), ("é", "character"),
        ("X1 X2", "repeated"), ("M3 M4 M5 M6 M7", "repeated"), ("X9999999999", "range"),
        ("#=1", "parameter"), ("X1=2=3", "character"), ("G=1", "number"), ("[1]", "character"),
    ],
)  # fmt: skip
def test_what_is_wrong_has_a_name(text: str, kind: str) -> None:
    """NISTIR 6556, 3.3: "any input not explicitly allowed is illegal"; none raises here."""
    assert kind in kinds(text)


def test_letter_o_for_zero_is_named() -> None:
    assert "letter O" in read_line("GO X1").problems[0].reason


def test_o_numbers_are_common_practice() -> None:
    assert read_line("O1000 (PART)").o == 1000
    assert read_line("o0012").o == 12
    assert read_line(":0012").o == 12


def test_percent_lines() -> None:
    """NISTIR 6556, 3.1: nothing but `%`, blanks around it allowed."""
    assert read_line(" % \r\n").percent
    assert not read_line("G1 X1 %").percent


def test_rounding_and_chamfer_words_are_common_practice() -> None:
    assert words("G1 X1,R5") == [("G", Decimal(1)), ("X", Decimal(1)), (",R", Decimal(5))]


@settings(max_examples=300)
@given(st.text(max_size=400))
def test_no_text_raises(text: str) -> None:
    line = read_line(text, 7)
    assert all(p.line == 7 and p.reason.isascii() for p in line.problems)


@settings(max_examples=300)
@given(st.text(alphabet="GMXNO/#[]()+-.=<>, 0123456789;%IFGOTO\n\x01", max_size=60))
def test_nearly_right_text_does_not_raise(text: str) -> None:
    for word in read_line(text).words:
        assert word.value is None or word.value.is_finite()
        assert word.code


def test_a_line_of_one_mark_costs_no_more_than_its_length() -> None:
    for mark in ("#", "[", "(", "-", "X[", "#[", "/", ",", "IF["):
        read_line(mark * 4000)
