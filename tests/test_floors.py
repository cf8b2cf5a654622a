"""Imports go down only, and a screen's library is imported only for a screen."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def _imported(statement: str) -> set[str]:
    """Top-level modules in a fresh process after a statement."""
    code = f"import sys; {statement}; print(' '.join({{m.split('.')[0] for m in sys.modules}}))"
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
    assert not _imported(statement) & absent


def test_import_contracts_hold() -> None:
    done = subprocess.run([Path(sys.executable).parent / "lint-imports"], cwd=ROOT,
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stdout
