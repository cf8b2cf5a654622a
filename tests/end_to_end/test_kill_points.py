"""A save may die anywhere: the short form of `tests/campaigns/kill_points.py`.

The campaign is a process of its own, since it forks. Its seed moves the chosen
points a little from day to day; the output names it.
"""

import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("only", "options", "least"),
    [
        ("save", ["--every", "3"], 20),
        ("rename", ["--every", "5"], 10),
        ("restore", ["--every", "5"], 10),
        ("start", ["--every", "8"], 10),
        ("random", ["--rounds", "8"], 8),
        ("among others", ["--rounds", "9"], 3),
        ("full", ["--every", "5"], 3),
    ],
)
def test_nothing_is_lost_and_nothing_is_half_done(only, options, least):
    command = [sys.executable, "-m", "tests.campaigns.kill_points", "--only", only, *options]
    seed = str(date.today().toordinal())
    done = subprocess.run(
        [*command, "--seed", seed], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"seed {seed}\n{done.stdout}\n{done.stderr}"
    assert int(done.stdout.split(": ")[1].split(" ")[0]) >= least, done.stdout
