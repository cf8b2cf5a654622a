"""A save may die anywhere: the short form of `tests/campaigns/kill_points.py`.

The campaign is a process of its own, since it forks. Another seed moves the chosen
points; the long form goes to every one.
"""

import subprocess
import sys
from pathlib import Path

import pytest

SEED = "11"
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("only", "options", "least"),
    [
        ("save", ["--every", "3"], 20),
        ("twice", ["--every", "9"], 10),
        ("by hand", ["--every", "8"], 10),
        ("held", ["--every", "9"], 10),
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
    done = subprocess.run(
        [*command, "--seed", SEED], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"seed {SEED}\n{done.stdout}\n{done.stderr}"
    assert int(done.stdout.split(": ")[1].split(" ")[0]) >= least, done.stdout
