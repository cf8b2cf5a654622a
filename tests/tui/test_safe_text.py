"""Foreign text moves no cursor, switches no direction and is never markup."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from tui.safe import REPLACED, encodable, fit, safe, terminal_can, wrap
from tui.widgets.entry import Entry
from tui.widgets.paint import Paint

ANY = st.text(st.characters())  # lone surrogates, too


def test_escape_sequences_lose_their_escape():
    assert "\x1b" not in safe("\x1b[2J\x1b]0;gone\x07")
    assert safe("\x1b[2J") == f"{REPLACED}[2J"
    assert safe("a\x9b31mb") == f"a{REPLACED}31mb"


def test_markup_is_text():
    assert safe("[/x] [red]a[/red]") == "[/x] [red]a[/red]"


def test_direction_and_invisible_signs_become_visible():
    for sign in "\u202e\u2066\u200b\u200f\ufeff\u061c\u00ad\U000e0041":
        assert safe(f"a{sign}b") == f"a{REPLACED}b"


def test_lone_surrogates_can_be_encoded():
    assert safe("a\ud800b").encode() == f"a{REPLACED}b".encode()


def test_piles_of_combining_signs_are_cut_and_told():
    pile = "e" + "\u0301" * 40
    cleaned = safe(pile)
    assert cleaned.count("\u0301") == 2
    assert REPLACED in cleaned
    assert safe("\u0301a") == f"{REPLACED}a"  # nothing to stand on


def test_ordinary_words_stay():
    for text in ("Ødegård, Šárka", "42CrMo4", "Ω 3,5 µm ± 0.1 °", "日本", "naïve e\u0301"):
        assert safe(text) == text


def test_line_ends_show_or_stay():
    assert safe("a\nb") == "a\u00b6b"
    assert safe("a\r\nb\tc", lines=True) == "a\nb c"


@given(ANY)
def test_safe_is_idempotent_and_harmless(text: str):
    once = safe(text)
    assert safe(once) == once
    once.encode("utf-8")
    assert all(unicodedata.category(sign) not in ("Cc", "Cs", "Cf") for sign in once)


@given(ANY, st.integers(0, 40))
def test_fit_is_exactly_as_wide_as_asked(text: str, width: int):
    assert cell_len(fit(text, width)) == width
    assert cell_len(fit(text, width, right=True)) == width


@given(ANY, st.integers(2, 40))
def test_wrapped_lines_are_no_wider(text: str, width: int):
    assert all(cell_len(line) <= width for line in wrap(text, width))


@given(ANY, st.integers(1, 60), st.sampled_from([0, 1, 2]))
def test_what_is_painted_has_the_width_and_no_controls(text: str, width: int, chosen: int):
    strip = Paint().strip(((text, "strong"),), width, chosen=chosen)
    assert strip.cell_length == width
    assert all(sign.isprintable() for sign in strip.text)
    assert "\x1b" not in strip.text


@given(ANY, st.integers(0, 30), st.integers(4, 40))
def test_an_entry_fills_its_room(text: str, at: int, width: int):
    entry = Entry(text, min(at, len(text)))
    assert sum(cell_len(piece) for piece, _ in entry.pieces(width)) == width


def test_other_encodings_get_question_marks():
    assert encodable("Šárka", "iso8859-1") == "?árka"
    assert encodable("日", "ascii") == "??"
    assert encodable("ok", "nonsense") == "ok"


class _Stream:
    def __init__(self, terminal: bool) -> None:
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


def test_a_terminal_that_can_be_painted_on():
    assert terminal_can({"TERM": "xterm"}, _Stream(True))
    assert not terminal_can({"TERM": "dumb"}, _Stream(True))
    assert not terminal_can({}, _Stream(True))
    assert not terminal_can({"TERM": "xterm"}, _Stream(False))
