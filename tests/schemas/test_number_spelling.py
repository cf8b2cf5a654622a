"""A number keeps the digits that a person typed, and has one spelling."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.number import MOST_DIGITS, canonical, for_toml, read_typed, spell
from schemas.toml import read_toml, write_toml

_DIGITS = st.from_regex(r"-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,12})?", fullmatch=True)


@pytest.mark.parametrize(
    ("typed", "spelt"),
    [
        ("28", "28"),
        ("28.0", "28.0"),
        ("104.250", "104.250"),
        ("1e3", "1000"),
        ("1E+3", "1000"),
        ("-0.0", "0.0"),
        ("-0", "0"),
        ("+5", "5"),
        (".5", "0.5"),
        ("5.", "5"),
        ("007", "7"),
        (" 3.10 ", "3.10"),
        ("1.50e2", "150"),
        ("1.5e-3", "0.0015"),
        ("0e5", "0"),
        ("-1e-7", "-0.0000001"),
        ("0.000", "0.000"),
        ("12345678901234567890.1234", "12345678901234567890.1234"),
    ],
)
def test_a_typed_number_has_one_spelling(typed, spelt):
    assert spell(read_typed(typed)) == spelt


@pytest.mark.parametrize(
    "typed",
    [
        "nan",
        "inf",
        "-inf",
        "Infinity",
        "sNaN",
        "1,5",
        "1,234",
        "12 mm",
        "",
        " ",
        "--1",
        "1e",
        "e1",
        "1e9999",
        "1e99",
        "1e-99",
        "0x10",
        "1_000",
        "1.2.3",
        "½",
        "9" * 30,
        "0." + "1" * 30,
        "1" * 10**6,
    ],
)
def test_what_is_no_number_is_refused_in_words(typed):
    with pytest.raises(ValueError, match=r"number|comma|digits"):
        read_typed(typed)


@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity", "-Infinity"])
def test_what_cannot_be_measured_has_no_spelling(value):
    with pytest.raises(ValueError, match="measured"):
        spell(Decimal(value))


@pytest.mark.parametrize("value", [10**MOST_DIGITS, -(10**40), 1 << 4_000_000], ids=["a", "b", "c"])
def test_a_huge_whole_number_is_refused_at_once(value):
    with pytest.raises(ValueError, match="digits"):
        canonical(value)


@given(_DIGITS)
def test_reading_what_was_spelt_gives_the_number_and_its_digits(text):
    number = read_typed(text)
    again = read_typed(spell(number))
    assert again == number
    assert again.as_tuple().exponent == number.as_tuple().exponent
    assert spell(again) == spell(number)
    assert spell(number) in (text, text.removeprefix("-"))


@given(st.decimals(allow_nan=False, allow_infinity=False))
def test_any_decimal_is_spelt_exactly_or_refused(value):
    try:
        text = spell(value)
    except ValueError:
        assert abs(value.adjusted()) > 20 or abs(value.as_tuple().exponent) > 20
        return
    assert Decimal(text) == value
    assert "e" not in text.lower()
    assert not text.startswith("-0") or Decimal(text) != 0


@given(_DIGITS)
def test_a_file_keeps_the_digits(text):
    number = read_typed(text)
    data = write_toml({"x": {"y": number}})
    assert data == f"[x]\ny = {spell(number)}\n".encode()
    back = read_toml(data, "a.toml").tree["x"]["y"]
    assert spell(back) == spell(number)
    assert write_toml({"x": {"y": canonical(back)}}) == data


def test_a_whole_number_is_written_without_a_point():
    assert for_toml(Decimal(28)) == 28
    assert isinstance(for_toml(Decimal(28)), int)
    assert str(for_toml(Decimal("1E+2"))) == "100"
    assert str(for_toml(Decimal("0.0000001"))) == "0.0000001"
