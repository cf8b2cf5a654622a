"""Figures in words, and which of two sets of figures changed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.figures.changes import changed
from engine.figures.kinds import Figure, FigureKind, Verdict
from engine.views.wording import figures as wording

FREE = FigureKind("free height", "bite", "mm", "f", "s", "least")
FORCE = FigureKind("finger force", "hold", "N", "f", "s", "most")
CYCLE = FigureKind("cycle", "cycle", "s", "f", "s")


def figure(
    kind: FigureKind,
    at: str,
    value: float | None,
    limit: float | None = None,
    verdict: Verdict = "fits",
) -> Figure:
    margin = None
    if value is not None and limit is not None:
        margin = value - limit if kind.bound == "least" else limit - value
    return Figure(kind.name, kind.group, at, value, kind.unit, limit, margin, verdict, kind)


def test_a_change_reads_as_a_setter_says_it() -> None:
    old, new = figure(FREE, "blank", 3.2, 0.5), figure(FREE, "blank", 0.9, 0.8, "tight")
    (change,) = changed([old], [new])
    assert wording.change_in_words(change) == "free height (blank) 3.20 -> 0.90 mm: tight"
    assert wording.worsened(change)
    assert (change.old_verdict, change.new_verdict, change.group) == ("fits", "tight", "bite")


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (0.7854, "mm", "0.79 mm"),
        (-0.0004, "mm", "0.00 mm"),
        (7680.4, "N", "7680 N"),
        (0.15, "1", "0.15"),
        (None, "mm", "?"),
        (27.0, "pockets", "27 pockets"),
    ],
)
def test_a_value_has_the_digits_of_its_unit(value: float | None, unit: str, words: str) -> None:
    assert wording.with_unit(value, unit) == words


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("mm", "1.23 mm"), ("deg", "1.23 deg"), ("s", "1.2 s"), ("N", "1 N"), ("N·m", "1.23 N·m"),
        ("kg", "1.235 kg"), ("mm/s", "1 mm/s"), ("h", "1.2 h"), ("1/h", "1.2 1/h"), ("%", "1.2 %"),
        ("1", "1.23"), ("pockets", "1 pockets"), ("pieces", "1 pieces"), ("fills", "1 fills"),
        ("refills", "1 refills"), ("any other", "1.23 any other"),
    ],
)  # fmt: skip
def test_the_digits_of_each_unit(unit: str, words: str) -> None:
    assert wording.with_unit(1.2346, unit) == words


@pytest.mark.parametrize(
    ("kind", "limit", "words"),
    [
        (FREE, 3.0, "at least 3.00 mm"),
        (FORCE, 300.0, "at most 300 N"),
        (FREE, None, ""),
        (CYCLE, 100.0, ""),  # it has no bound: a limit of it says nothing
        (FREE, 0.0, "at least 0.00 mm"),
    ],
)
def test_a_limit_is_said_where_there_is_one(
    kind: FigureKind, limit: float | None, words: str
) -> None:
    some = figure(kind, "", 2.5, limit)
    assert wording.against(some) == words
    said = wording.figure_in_words(some)
    assert said == f"{kind.name} {wording.with_unit(2.5, kind.unit)}{', ' * bool(words)}{words}"


def test_nothing_changed_is_nothing_to_tell() -> None:
    every = [figure(FREE, "blank", 3.2, 0.5), figure(CYCLE, "full speed", 181.2)]
    assert changed(every, every) == []


def test_what_the_eye_cannot_see_is_no_change() -> None:
    old, new = figure(CYCLE, "full speed", 181.20), figure(CYCLE, "full speed", 181.24)
    assert changed([old], [new]) == []
    less_than_a_hundredth = figure(CYCLE, "full speed", 182.0)
    assert changed([old], [less_than_a_hundredth]) == []


def test_worst_first_and_all_that_do_not_fit() -> None:
    old = [
        figure(CYCLE, "full speed", 100.0),
        figure(FREE, "blank", 3.2, 3.0, "tight"),
        figure(FREE, "part", 2.9, 3.0, "does not fit"),
        figure(FORCE, "blank, in", 100, 300),
    ]
    new = [
        figure(CYCLE, "full speed", 120.0),
        figure(FREE, "blank", 4.5, 3.0),
        figure(FREE, "part", 2.2, 3.0, "does not fit"),
        figure(FORCE, "blank, in", 310, 300, "does not fit"),
    ]
    found = changed(old, new)
    assert [(c.name, c.new_verdict) for c in found] == [
        ("finger force", "does not fit"),
        ("free height", "does not fit"),
        ("free height", "fits"),
        ("cycle", "fits"),
    ]
    assert [wording.worsened(c) for c in found] == [True, False, False, False]


def test_of_many_that_fit_the_largest_change_stands_for_all() -> None:
    legs = ("in", "out", "swap")
    old = [figure(FORCE, leg, 100, 300) for leg in legs]
    new = [figure(FORCE, leg, 100 + 20 * n, 300) for n, leg in enumerate(legs)]
    (change,) = changed(old, new)
    assert (change.at, change.new) == ("swap", 140)


def test_what_can_no_longer_be_told_is_worse() -> None:
    old = figure(FREE, "blank", 3.2, 0.5)
    new = replace(old, value=None, verdict="cannot tell", missing=("blank.height",))
    (change,) = changed([old], [new])
    assert wording.worsened(change)
    assert wording.change_in_words(change) == "free height (blank) 3.20 -> ?: cannot tell"


def test_a_new_figure_is_told_only_where_it_does_not_fit() -> None:
    assert changed([], [figure(FREE, "blank", 3.2, 0.5)]) == []
    (change,) = changed([], [figure(FREE, "blank", 0.2, 0.5, "does not fit")])
    assert (change.old, change.old_verdict) == (None, "not there")


def test_the_worst_stand_first_by_what_is_left_of_the_limit() -> None:
    some = [
        figure(FREE, "a", 3.05, 3.0, "tight"),
        figure(FORCE, "b", 290, 300, "tight"),
        figure(FREE, "c", 2.9, 3.0, "does not fit"),
        figure(FREE, "d", 1.0, 3.0, "does not fit"),
        figure(FREE, "e", 9.0, 3.0),
    ]
    assert [f.at for f in wording.worst_first(some)] == ["d", "c", "a", "b"]
    assert wording.counted(some) == ["2 do not fit", "2 tight", "1 fits"]


def test_waiting_goes_by_input_the_most_awaited_first() -> None:
    lack = [
        replace(figure(FREE, str(n), None), verdict="cannot tell", missing=missing)
        for n, missing in enumerate([("x",), ("y", "x"), ("x", "z"), ("y",)])
    ]
    assert {a: len(w) for a, w in wording.waiting(lack).items()} == {"x": 3, "y": 2, "z": 1}
    assert next(iter(wording.waiting(lack))) == "x"


def test_of_what_goes_on_fitting_the_largest_change_stands_first() -> None:
    old = [figure(CYCLE, "", 100.0), figure(FREE, "", 10.0), figure(FORCE, "", 100.0)]
    new = [figure(CYCLE, "", 110.0), figure(FREE, "", 13.0), figure(FORCE, "", 120.0)]
    found = changed(old, new)
    assert [change.name for change in found] == ["free height", "finger force", "cycle"]
    assert wording.change_in_words(found[0]) == "free height 10.00 -> 13.00 mm: fits"


def test_a_step_that_is_large_beside_the_margin_is_news_though_small_beside_the_value() -> None:
    old, new = figure(FORCE, "", 298.0, 300), figure(FORCE, "", 299.0, 300)
    assert [change.new for change in changed([old], [new])] == [299.0]
    assert changed([figure(FORCE, "", 298.0)], [figure(FORCE, "", 299.0)]) == []
    from_nothing = changed([figure(CYCLE, "", 0.0)], [figure(CYCLE, "", 0.5)])
    assert [change.new for change in from_nothing] == [0.5]
    exactly = changed([figure(CYCLE, "", 100.0)], [figure(CYCLE, "", 101.0)])
    assert [change.new for change in exactly] == [101.0]


def test_counts_of_one_and_of_several() -> None:
    def some(verdict: Verdict, count: int) -> list[Figure]:
        return [figure(FREE, "", 1.0, 1.0, verdict)] * count

    assert wording.counted(some("does not fit", 1) + some("fits", 2)) == [
        "1 does not fit", "2 fit",
    ]  # fmt: skip
    assert wording.counted(some("cannot tell", 2) + some("for information", 1)) == [
        "2 cannot tell", "1 for information",
    ]  # fmt: skip
