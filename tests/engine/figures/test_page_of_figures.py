"""The page that names every kind of figure, with unit and limit, is what there is."""

import runpy
from pathlib import Path

from engine.figures import all_figures
from tests.engine.figures.mill_case import case

ROOT = Path(__file__).parents[3]
MADE = runpy.run_path(str(ROOT / "docs" / "make_figures.py"))


def test_the_page_is_up_to_date() -> None:
    assert (ROOT / "docs" / "figures.md").read_text(encoding="utf-8") == MADE["page"]()


def test_every_figure_that_is_worked_out_stands_on_it() -> None:
    named = {(kind.group, kind.name) for kind in MADE["kinds"]()}
    assert {(f.kind.group, f.kind.name) for f in all_figures(case())} <= named
