"""Bites seen from the side: heights to one scale, with measures and the engine's verdict."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from engine.figures import pictures
from engine.figures.inputs import Facts
from tests.engine.figures.mill_case import case, in_inches
from tui.pictures import bites
from tui.pictures.pieces import DrawnPiece, sketch, spans
from tui.pictures.signs import PLAIN

HEIGHTS = st.floats(0.1, 500)
BITES = st.floats(0, 500)


def bite_view(facts: Facts, width: int = 80, *, ascii_only: bool = False) -> list[str]:
    """The bites that the engine worked out."""
    return bites.bite_view(pictures.bites(facts), width, ascii_only=ascii_only)


def test_measures_and_the_sum_stand_beside_the_drawing():
    text = "\n".join(bite_view(case(), 80))
    for words in (
        *("BLANK, 31.5 high", "PART, 29.8 high"),
        *("jaws hold 7.5", "fingers hold 9.0", "free 15.0", "free 13.3"),
        *("31.5 - 7.5 - 9.0 = 15.0 free", "29.8 - 7.5 - 9.0 = 13.3 free"),
        *("at least 2.0: fits", "stands 24.0 out of the jaws"),
    ):
        assert words in text


def test_blank_and_part_stand_on_one_ground():
    lines = bite_view(case(), 80, ascii_only=True)
    (ground,) = [line for line in lines if line.startswith("=" * 14)]
    assert ground.count("=" * 14) == 2
    tall = bite_view(case({"blank.height": 60}), 80, ascii_only=True)
    (lid,) = [n for n, line in enumerate(tall) if line.startswith("###+------+###")]
    assert "+------+" not in tall[lid][14:]  # the part is shorter


def test_one_over_the_other_where_it_is_narrow():
    lines = bite_view(case(), 44)
    assert [line for line in lines if line.startswith(("BLANK", "PART"))] == [
        "BLANK, 31.5 high",
        "PART, 29.8 high",
    ]


@given(HEIGHTS, BITES, BITES, BITES, st.floats(0.5, 40))
def test_a_larger_bite_never_takes_fewer_lines(
    height: float, one: float, other: float, grip: float, scale: float
):
    low, high = sorted((one, other))
    small, large = (spans(DrawnPiece(height, bite, grip), scale) for bite in (low, high))
    assert small.jaws <= large.jaws
    small, large = (spans(DrawnPiece(height, grip, bite), scale) for bite in (low, high))
    assert small.fingers <= large.fingers


@given(HEIGHTS, BITES, BITES, st.floats(0.5, 40))
def test_lines_say_whether_they_meet(height: float, jaws: float, grip: float, scale: float):
    piece = DrawnPiece(height, jaws, grip)
    span, free = spans(piece, scale), piece.free
    assert free is not None
    between = span.lines - span.jaws - span.fingers
    if free > 0:
        assert between >= 1
    elif jaws > 0 and grip > 0:
        assert (between < 0) == (free < 0)
    assert len(sketch(piece, span, {}, PLAIN)) == 3 + span.lines + bool(span.jaws)


def test_where_they_meet_it_says_so_by_sign_and_word():
    text = "\n".join(bite_view(case({"jaws.bite": 24}), 80))
    assert "!!!│" in text
    assert "overlap by 1.5" in text
    assert "= -1.5 free" in text
    assert "at least 2.0: does not fit" in text
    assert "!" not in "\n".join(bite_view(case(), 80))


def test_holding_inside_is_drawn_inside():
    lines = bite_view(case({"fingers.part.hold": "inside", "fingers.part.bite": 25}), 80)
    text = "\n".join(lines)
    assert "│██  ██│" in text
    assert "!" not in text
    assert "they do not meet" in text.replace("\n", " ")
    lines = bite_view(case({"jaws.inside_or_outside": "inside", "jaws.bite": 8}), 80)
    assert "│▓▓  ▓▓│" in "\n".join(lines)


@pytest.mark.parametrize("without", ["jaws.bite", "fingers.blank.bite", "blank.height"])
def test_what_is_missing_is_named(without: str):
    text = re.sub(r"\s+", " ", " ".join(bite_view(case(without=[without]), 44)))
    assert f"free height: cannot tell: {without}" in text


def test_what_is_known_is_drawn_all_the_same():
    text = "\n".join(bite_view(case(without=["jaws.bite"]), 80))
    assert "fingers hold 9.0" in text
    assert "jaws hold" not in text
    assert "cannot tell: jaws" in text


def test_nothing_known_names_everything():
    lines = bite_view(case(without=["blank.height", "part.height", "jaws.bite"]), 80)
    text = re.sub(r"\s+", " ", " ".join(lines))
    for address in ("blank.height", "part.height", "jaws.bite"):
        assert address in text
    assert "│" not in text


def test_inches_stay_inches():
    text = "\n".join(bite_view(in_inches(), 80))
    assert "Bites in inches" in text
    assert "jaws hold 0.2953" in text


@given(st.integers(40, 200), st.booleans(), HEIGHTS, BITES)
def test_widths_and_signs(width: int, plain: bool, height: float, bite: float):
    facts = case({"blank.height": round(height, 3), "jaws.bite": round(bite, 3)})
    lines = bite_view(facts, width, ascii_only=plain)
    assert max(map(cell_len, lines)) <= width
    assert not plain or "".join(lines).isascii()
