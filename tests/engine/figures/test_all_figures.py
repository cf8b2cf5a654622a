"""All groups together: in a setter's order, each with its formula and source, and little work."""

from __future__ import annotations

from engine.figures import all_figures
from tests.counting import steps
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


def test_little_enough_work_for_a_key_press() -> None:
    all_figures(case())  # the tables are read once
    facts = case()
    assert steps(lambda: all_figures(facts)) < 60_000  # some 30,000 lines of Python
