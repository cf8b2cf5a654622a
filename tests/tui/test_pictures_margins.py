"""Margin bars: worst first, zero at the limit, the verdict as a word, what is missing by name."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from engine.figures import all_figures
from engine.figures.inputs import Missing
from engine.figures.kinds import Figure, FigureKind
from engine.figures.verdicts import judge
from tests.engine.figures.mill_case import case
from tui.pictures.margins import margin_bars

LEAST = FigureKind("room", "test", "mm", "", "", "least")
MOST = FigureKind("force", "test", "N", "", "", "most")
INFO = FigureKind("mass", "test", "kg", "", "")


def made(kind: FigureKind, value: float, limit: float | None, at: str = "here") -> Figure:
    return judge(case(), kind, at, lambda: value, None if limit is None else lambda: limit)


def unknown(*addresses: str, at: str = "here") -> Figure:
    def miss() -> float:
        raise Missing(*addresses)

    return judge(case(), LEAST, at, miss, lambda: 1.0)


def bar(figure: Figure, width: int = 80) -> tuple[int, int]:
    """Cells of the bar to the left and to the right of the limit."""
    left, _, right = margin_bars([figure], width, ascii_only=True)[2].partition("|")
    right = right[: 8 if width < 100 else 16]
    return sum(map(left.count, "#<")), sum(map(right.count, "#>"))


def test_one_line_for_each_with_all_that_it_says():
    lines = margin_bars([made(MOST, 263.8, 250, "way out"), made(LEAST, 23.2, 3)], 80)
    assert lines[0] == "Figures: 1 does not fit, 1 fits"
    force, room = lines[2:]
    for words in ("force", "way out", "263.8 N", "max 250", "does not fit"):
        assert words in force
    for words in ("room", "here", "23.2 mm", "min 3", "fits"):
        assert words in room


def test_worst_first():
    figures = [
        made(LEAST, 80, 10, "sixth"),
        made(LEAST, 11, 10, "fourth"),
        unknown("jaws.bite", at="third"),
        made(LEAST, 9, 10, "second"),
        made(LEAST, 15, 10, "fifth"),
        made(LEAST, 2, 10, "first"),
        made(INFO, 5, None, "weight"),
    ]
    text = "\n".join(margin_bars(figures, 80))
    places = [text.index(at) for at in ("first", "second", "third", "fourth", "fifth", "sixth")]
    assert places == sorted(places)
    assert "weight" not in text
    assert "1 for information" in text


def test_the_bar_says_what_the_word_says():
    assert bar(made(LEAST, 9.9, 10)) == (1, 0)
    assert bar(made(LEAST, 10, 10)) == (0, 0)
    assert bar(made(LEAST, 12.4, 10)) == (0, 2)  # tight: up to the mark
    assert bar(made(LEAST, 12.5, 10)) == (0, 3)  # fits: over it
    assert bar(made(LEAST, 90, 10)) == (0, 8)
    assert bar(made(LEAST, -90, 10))[0] == 3
    assert bar(made(LEAST, 0.1, 0)) == (0, 8)  # nothing to measure it by
    assert bar(made(LEAST, -0.1, 0)) == (3, 0)


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.sampled_from([40, 80, 120]))
def test_more_margin_never_takes_fewer_cells(one: float, other: float, width: int):
    low, high = sorted((one, other))
    if width == 40:
        width = 74
    worse, better = (bar(made(LEAST, value, 100.0), width) for value in (low, high))
    assert worse[1] - worse[0] <= better[1] - better[0]


def test_digits_tell_value_and_limit_apart():
    (line,) = margin_bars([made(LEAST, 2.9996, 3)], 80)[2:]
    assert "2.9996 mm" in line
    assert "does not fit" in line


def test_what_is_missing_is_named_in_full_with_how_much_waits_for_it():
    address = "cell:legs.a-leg-with-a-long-name.via.lift"
    figures = [unknown(address, at=f"leg {n}") for n in range(3)] + [unknown("jaws.bite")]
    lines = margin_bars(figures, 80)
    assert lines[0] == "Figures: 4 cannot tell"
    assert f"{address}: 3 figures" in lines
    assert "jaws.bite: 1 figure" in lines
    assert sum("cannot tell: " in line for line in lines) == 4


def test_nothing_to_judge():
    assert margin_bars([], 80) == ["Figures: none"]
    assert margin_bars([made(INFO, 5, None)], 80) == ["Figures: 1 for information"]


@pytest.mark.parametrize("changes", [{}, {"cell:axes.lift.most": 210}])
@pytest.mark.parametrize("width", [40, 60, 74, 80, 100, 200])
@pytest.mark.parametrize("plain", [False, True])
def test_all_figures_of_a_job(changes: dict[str, object], width: int, plain: bool):
    figures = all_figures(case(changes))
    lines = margin_bars(figures, width, ascii_only=plain)
    assert max(map(cell_len, lines)) <= width
    assert not plain or "".join(lines).isascii()
    text = " ".join(lines)
    for figure in figures:
        for address in figure.missing:
            assert address in text.replace("  ", "") or width < 60
    assert sum(line.endswith("does not fit") for line in lines) == sum(
        figure.verdict == "does not fit" for figure in figures
    )


@given(st.text(max_size=80), st.text(max_size=80), st.integers(40, 200), st.booleans())
def test_foreign_names_stay_harmless_and_within_width(name: str, at: str, width: int, plain: bool):
    kind = FigureKind(f"名{name}", "test", "mm", "", "", "least")
    lines = margin_bars(
        [made(kind, 4, 3, f"{at}場"), unknown(name, at=at)], width, ascii_only=plain
    )
    assert max(map(cell_len, lines)) <= width
    assert not plain or "".join(lines).isascii()
    assert not set("".join(lines)) & set("\x1b\n\r\t\u202e\u200b")
