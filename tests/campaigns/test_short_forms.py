"""Each class of attacks in its short form, in a process of its own, since campaigns fork."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.campaigns.__main__ import CLASSES

ROOT = Path(__file__).parents[2]
SEED = "11"


@pytest.mark.parametrize("name", CLASSES)
def test_nothing_is_lost_run_fallen_over_or_unanswerable(name: str) -> None:
    words = [sys.executable, "-m", "tests.campaigns", name, "--seed", SEED]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
    row = next(line for line in done.stdout.splitlines() if line.startswith(f"| {name} |"))
    assert "left out" in row or int(row.split("|")[2]) > 0, "it tried nothing"
