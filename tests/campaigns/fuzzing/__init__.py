"""Bytes that nobody would write: fed to what reads texts, programs, addresses and both sides of a
merge.

Two fuzzers, since each finds what the other does not: hypothesis, which mixes fragments and makes
what it finds small, and, where it is installed (`pip install -e '.[campaigns]'`), atheris, which
is led by the coverage of our own code. Each target gets its share of the cases from both.
"""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from tests.campaigns.fuzzing.targets import SEEDS, TARGETS
from tests.campaigns.outcome import Kind, Outcome, Wanted

ROOT = Path(__file__).parents[3]
LED = (
    Path(__file__).parent / "led.py"
)  # by its path: as a module, all would be imported before it begins
LONGEST = 900.0  # seconds that one target may be fuzzed by coverage: bounded, runs end it earlier
WORTH_IT = 500  # cases of a target; to begin by coverage takes seconds
TIMES = 8  # coverage-led cases for each case of hypothesis: they are that much quicker


def run(wanted: Wanted) -> Outcome:
    """A share of the cases for each target and fuzzer."""
    outcome = Outcome()
    each = max(10, wanted.cases // len(TARGETS))
    there = importlib.util.find_spec("atheris") is not None
    led = there and each > WORTH_IT
    mixed = max(10, each // (TIMES + 1)) if led else each
    for name, target in TARGETS.items():
        _mixed(name, target, mixed, wanted, outcome)
        if led:
            _led(name, each - mixed, wanted, outcome)
    if not there:
        outcome.counts["without atheris, which is not installed"] = 1
    return outcome


def fragments(name: str) -> st.SearchStrategy[bytes]:
    """Pieces of what is usual, bytes that are not, and both in a row."""
    usual = st.sampled_from(SEEDS[name])
    cut = st.tuples(usual, st.integers(0, 30)).map(lambda pair: pair[0][: pair[1]])
    odd = st.one_of(
        st.binary(max_size=12),
        st.sampled_from([b"\n", b"\0", b"=", b"[", b'"', b"\r\n", b" ", b"9" * 30]),
    )
    return st.lists(st.one_of(usual, cut, odd), max_size=12).map(b"".join)


def _mixed(
    name: str, target: Callable[[bytes], None], cases: int, wanted: Wanted, outcome: Outcome
) -> None:
    counted = 0

    @seed(wanted.seed)
    @settings(max_examples=cases, deadline=None, database=None, phases=(Phase.generate,
    Phase.shrink),
              suppress_health_check=list(HealthCheck), print_blob=False)  # fmt: skip
    @given(fragments(name))
    def one(data: bytes) -> None:
        nonlocal counted
        counted += 1
        target(data)

    with outcome.looking(f"{name}, mixed", Kind.TRACEBACK):
        one()
    outcome.cases += counted
    outcome.counts[f"{name}, mixed"] += counted


def _led(name: str, cases: int, wanted: Wanted, outcome: Outcome) -> None:
    """In a process of its own: the fuzzer ends it at what it finds."""
    place = wanted.place / name
    place.mkdir()
    for n, data in enumerate(SEEDS[name]):
        (place / f"seed-{n}").write_bytes(data)
    words = [sys.executable, str(LED), name, f"-runs={cases}", f"-seed={wanted.seed}",
             f"-max_total_time={LONGEST:.0f}", "-max_len=400", f"-artifact_prefix={place}/found-",
             str(place)]  # fmt: skip
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False,
    timeout=2 * LONGEST,
                          env={**os.environ, "PYTHONPATH": str(ROOT)})  # fmt: skip
    ran = re.findall(r"Done (\d+) runs|#(\d+)\s", done.stderr)
    number = int(ran[-1][0] or ran[-1][1]) if ran else 0
    covered = re.findall(r"cov: (\d+)", done.stderr)
    outcome.cases += number
    outcome.counts[f"{name}, led (coverage {covered[-1] if covered else '?'})"] += number
    if done.returncode:
        what = [
            line
            for line in done.stdout.splitlines() + done.stderr.splitlines()
            if "Error" in line or "Exception" in line
        ]
        found = [path.read_bytes()[:200] for path in place.glob("found-*")]
        outcome.complain(Kind.TRACEBACK, f"{name}, led", f"{what[:3]} {found}")
