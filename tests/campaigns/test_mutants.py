"""The tester of tests notices what is to be noticed, and says of nothing else that it was."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.campaigns.mutants import Notes, Package, sample, try_all, wilson
from tests.campaigns.mutants.fault import Fault, swaps

ROOT = Path(__file__).parents[2]
FILE = "engine/log/since.py"
FAULTS = {
    "noticed": ("today.weekday() + 7", "today.weekday() + 6", "killed"),
    "on import": ('"monday", "tuesday"', '"tuesday", "monday"', "killed"),
    "of words only": ("can be read two ways (this", "may be read two ways (this", "lives"),
    "for ever": ("    count = int(found[1])", "    while True: pass\n    count = int(found[1])",
                 "hangs"),
    "no import": ("_ISO_DAY = re.compile(", "_ISO_DAY = re.kompile(", "broken"),
    "no Python": ("def resolve(", "def def resolve(", "broken"),
}  # fmt: skip


def faults() -> list[Fault]:
    text = (ROOT / FILE).read_text()
    made = []
    for name, (was, now, _) in FAULTS.items():
        assert text.count(was) == 1
        line = text[: text.index(was)].count("\n") + 1
        made.append(Fault(name, FILE, line, (line, line), lambda w=was, n=now: text.replace(w, n)))
    return made


def test_each_fault_has_the_outcome_that_is_known_beforehand(tmp_path: Path) -> None:
    words = [sys.executable, "-c", "from tests.campaigns import test_mutants as t; t.alone()"]
    subprocess.run([*words, str(tmp_path)], cwd=ROOT, check=True, capture_output=True)
    notes = [json.loads(line) for line in (tmp_path / "notes.jsonl").read_text().splitlines()]
    found = {note["name"]: note["outcome"] for note in notes}
    assert found == {name: outcome for name, (_, _, outcome) in FAULTS.items()}


def alone() -> None:
    """In a process of its own, which has not imported the engine."""
    from tests.campaigns.mutants import fork_server

    assert not any(name.startswith("engine") for name in sys.modules)
    fork_server.SLACK = 1.0
    package = Package([FILE], ["tests/engine/log/test_since_when.py"])
    try_all(package, faults(), Notes(Path(sys.argv[1]) / "notes.jsonl"))


def test_notes_are_read_back_and_the_last_one_counts(tmp_path: Path) -> None:
    one, *_ = faults()
    notes = Notes(tmp_path / "notes")
    notes.add(one, {"outcome": "lives"})
    notes.add(one, {"outcome": "killed"})
    assert Notes(tmp_path / "notes").found[one.name]["outcome"] == "killed"


def test_a_sample_is_the_same_for_a_seed_and_stays_while_others_go() -> None:
    made = faults()
    whole = sample(made, 1, 99)
    assert sample(reversed(made), 1, 3) == whole[:3]
    assert sample([f for f in made if f is not whole[1]], 1, 99) == [whole[0], *whole[2:]]
    assert any(sample(made, seed, 99) != whole for seed in range(2, 9))


def test_what_changes_nothing_is_no_fault() -> None:
    same = Fault("same", FILE, 1, (1, 1), lambda: "x = 1  # other words\n")
    with pytest.raises(SyntaxError, match="changes nothing"):
        swaps(same, "x = 1\n", FILE)


@pytest.mark.parametrize(
    ("noticed", "of", "low", "high"),
    [(263, 300, 0.835, 0.909), (0, 10, 0.0, 0.278), (10, 10, 0.722, 1.0), (15, 30, 0.331, 0.669)],
)
def test_the_interval_is_wilsons(noticed: int, of: int, low: float, high: float) -> None:
    # worked by hand from (p + z2/2n -+ z sqrt(p(1-p)/n + z2/4n2)) / (1 + z2/n), z = 1.96
    assert wilson(noticed, of) == pytest.approx((low, high), abs=0.001)
