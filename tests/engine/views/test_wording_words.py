"""Counts, values, positions, runs and pencil in the words that commands and screens share."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from engine.views import (
    Change,
    Comparison,
    Confirmed,
    Draft,
    Pencilled,
    PositionChange,
    RunState,
    Who,
)
from engine.views.wording import (
    confirmed_words,
    count,
    differ_words,
    difference,
    joined,
    moved_words,
    pencil_words,
    people_of,
    ran_in,
    run_result,
    run_words,
    runs_words,
    short,
    signed,
    spans,
    with_unit,
)
from engine.views.wording.lengths import length, unit_in_words

NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)
IFEOMA, MIRELA = Who("ifeoma", "Ifeoma"), Who("mirela", "Mirela", "mosk")


def run(number: int, hours_ago: float | None) -> RunState:
    """A run of a day, stopped so long ago, or going on since 4 h."""
    stopped = None if hours_ago is None else NOW - timedelta(hours=hours_ago)
    started = (stopped or NOW) - timedelta(hours=4)
    return RunState(number, f"r{number}", started, stopped, "c", "e", 110, 108, 2, IFEOMA)


def comparison(changes: int, respelt: int = 0) -> Comparison:
    """A comparison of so many changes."""
    change = Change("jaws.bite", Decimal(9), Decimal(8), "mm", Decimal(-1))
    return Comparison("job", "ink-1", "now", (change,) * changes, (), respelt)


def test_counts() -> None:
    assert [count(n, "value") for n in (0, 1, 2)] == ["0 values", "1 value", "2 values"]
    assert count(2, "box", "boxes") == "2 boxes"
    assert [joined(each) for each in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        *("", "a", "a and b", "a, b and c"),
    ]
    assert spans([5, 1, 2, 3, 3]) == "1-3, 5"
    assert [differ_words(comparison(n)) for n in (0, 1, 2)] == [
        *("nothing differs", "1 value differs", "2 values differ"),
    ]
    assert differ_words(comparison(0, 3)) == "nothing differs (3 only spelt otherwise)"


@pytest.mark.parametrize(
    ("delta", "words"),
    [("0.150", "+0.150"), ("-3.0", "-3.0"), ("0.000", "0.000"), ("1E+2", "+100")],
)
def test_differences_have_their_sign(delta: str, words: str) -> None:
    assert signed(Decimal(delta)) == words
    assert difference(Decimal(1), Decimal(2), Decimal(delta), "mm") == f"{words} mm"


def test_values() -> None:
    assert with_unit(Decimal("303.440"), "mm") == "303.440 mm"
    assert with_unit(Decimal(3), "1") == "3"
    assert with_unit(None, "mm") == "no value"
    assert with_unit("soft", "mm") == "soft"
    assert short("a\n b", 10) == "a b"
    assert short("x" * 50, 10) == "x" * 9 + "…"
    assert difference(None, Decimal(1), None, "mm") == "new"
    assert difference(Decimal(1), None, None, "mm") == "taken out"
    assert difference("a", "b", None, "") == "changed"


def test_positions() -> None:
    lift, wrist = ("lift", Decimal("0.200"), "mm"), ("wrist", Decimal("-1"), "deg")
    assert moved_words(PositionChange("seat", (lift,), 0.2, 0.0)) == (
        "seat moved 0.200 mm: lift +0.200 mm"
    )
    assert moved_words(PositionChange("seat", (lift, wrist), 0.2, 1.0)) == (
        "seat moved 0.200 mm and turned 1.000 deg: lift +0.200 mm, wrist -1 deg"
    )


def test_runs() -> None:
    assert run_words(None, NOW) == "never ran"
    assert run_words(run(3, None), NOW) == "run 3 goes on, 4 h"
    assert run_words(run(4, 12 * 24), NOW) == "run 4, 12 d ago"
    assert runs_words([], NOW) == "never ran"
    assert runs_words([run(1, 48)], NOW) == "1 run, 2 d ago"
    assert runs_words([run(1, 99), run(2, 48)], NOW) == "2 runs; the last one 2 d ago"
    assert runs_words([run(1, 99), run(2, None)], NOW) == "2 runs; run 2 goes on, 4 h"
    assert run_result(None) == "never ran"
    assert run_result(run(1, None)) == "run 1 goes on"
    assert run_result(run(1, 48)) == "2026-03-07, 108 good, 2 scrap"
    assert [ran_in(n) for n in ((), (1,), (1, 2, 4))] == [
        *("never ran", "ran in run 1", "ran in runs 1-2, 4"),
    ]


def test_standing_and_pencil() -> None:
    said = [confirmed_words(c) for c in (None, Confirmed(NOW, IFEOMA, "c", True))]
    assert said == ["never read back", "read back"]
    assert confirmed_words(Confirmed(NOW, IFEOMA, "c", False)) == "changed since it was read back"
    mark = Pencilled("jaws.bite", Decimal(9), Decimal(8), "mm", Decimal(-1), IFEOMA, NOW)
    draft = Draft("job", IFEOMA, NOW - timedelta(hours=3), (mark, mark))
    assert pencil_words(draft, "", NOW) == "Ifeoma, 2 values, 3 h old"
    assert pencil_words(draft, "ifeoma", NOW) == "you, 2 values, 3 h old"
    mine = Draft("other", MIRELA, NOW, (mark,))
    assert pencil_words(mine, "", NOW) == "Mirela, 1 value, just now"
    assert people_of([draft, mine, draft], "mirela") == "Ifeoma, you"


def test_lengths_stay_in_the_records_unit() -> None:
    assert [length(mm, "mm") for mm in (31.5, -0.0001, 12.0)] == ["31.5", "0.0", "12.0"]
    assert length(7.5, "in") == "0.2953"
    assert [unit_in_words(unit) for unit in ("mm", "in")] == ["mm", "inches"]
