"""All groups together: in a setter's order, each with its formula and source, and quick."""

from __future__ import annotations

import time

from engine.figures import all_figures
from tests.engine.figures.mill_case import case

ORDER = ["mass", "clamp", "bite", "fingers", "hold", "tray"]


def test_order_formulas_and_sources() -> None:
    found = all_figures(case())
    groups = list(dict.fromkeys(figure.group for figure in found))
    assert groups[: len(ORDER)] == ORDER
    for figure in found:
        assert figure.kind.formula
        assert figure.kind.source
        assert (figure.name, figure.group, figure.unit) == (
            figure.kind.name,
            figure.kind.group,
            figure.kind.unit,
        )
        assert (figure.verdict == "cannot tell") == bool(figure.missing)
        assert figure.margin is None or figure.limit is not None


def test_without_a_cell_every_figure_still_says_something() -> None:
    assert {f.verdict for f in all_figures(case(no_cell=True))} & {"cannot tell"}


def test_quick_enough_for_a_key_press() -> None:
    all_figures(case())  # the tables are read once
    best = float("inf")
    for _ in range(5):
        facts = case()
        start = time.perf_counter()
        all_figures(facts)
        best = min(best, time.perf_counter() - start)
    assert best < 0.1  # some 5 ms on a quiet machine; the bound is for a busy one
