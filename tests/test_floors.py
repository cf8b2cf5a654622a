"""Imports go down only, and a screen's library is imported only for a screen."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def _modules(statement: str) -> set[str]:
    """Modules in a fresh process after a statement, by their full names."""
    code = f"import sys; {statement}; print(' '.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          check=True)  # fmt: skip
    return set(done.stdout.split())


@pytest.mark.parametrize(
    ("statement", "absent"),
    [
        ("import schemas.document", {"engine", "tui", "git", "textual", "rich", "click", "PIL"}),
        ("import engine.book", {"tui", "textual", "rich", "click", "PIL"}),
        ("import tui.main", {"textual", "engine", "git", "pydantic", "PIL"}),
        ("import tui.commands.reading", {"textual", "git", "PIL"}),
    ],
)
def test_a_floor_brings_only_what_is_below_it(statement: str, absent: set[str]) -> None:
    assert not {name.partition(".")[0] for name in _modules(statement)} & absent


@pytest.mark.parametrize(
    ("statement", "parts"),
    [
        ("import engine.views", {"views"}),
        ("import engine.views.wording", {"views"}),
        ("import engine.views.wording.figures", {"views"}),
        ("from engine.views import Listed, serialise", {"views"}),
        ("import engine.figures.pictures", {"views", "figures"}),
        ("import engine.programs", {"views", "programs"}),
        ("import tui.commands.reading, tui.commands.tables", {"views"}),
        ("import tui.screens.picture, tui.pictures.plan", {"views"}),
    ],
)
def test_a_part_of_the_engine_brings_only_what_it_stands_on(
    statement: str, parts: set[str]
) -> None:
    there = {name.split(".")[1] for name in _modules(statement) if name.startswith("engine.")}
    assert there == parts


def test_the_wording_waits_for_no_answer() -> None:
    """A screen draws its first picture with it, before there is anything to show."""
    there = {name for name in _modules("import engine.views.wording") if "engine.views." in name}
    assert all(name.startswith("engine.views.wording") for name in there)


def test_import_contracts_hold() -> None:
    done = subprocess.run([Path(sys.executable).parent / "lint-imports"], cwd=ROOT,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stdout
