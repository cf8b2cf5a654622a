"""Put small faults in, one at a time, and see whether the tests beside them notice.

    python -m tests.campaigns.mutants merge                     a sample of 300, seed 1
    python -m tests.campaigns.mutants checks --most 500 --seed 7
    python -m tests.campaigns.mutants merge --again lives       once more those that lived
    python -m tests.campaigns.mutants merge --score             the score of what is noted
    python -m tests.campaigns.mutants merge --show "NAME"       the change of one fault

Needs `pip install -e '.[test,campaigns]'`. Results are lines of JSON beside each
other in `--notes`; a run that was stopped goes on where it was. A sample is the
faults whose names come first by a hash with the seed, so it stays the same while
other code changes. Faults that nobody could notice stand in `equal_faults.toml`,
each with its reason; they and those that break the import count apart. The interval is
Wilson's of 95 % (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209).
"""

# ruff: noqa: T201 (this one is run by hand and tells what it found)
from __future__ import annotations

import argparse
import collections
import difflib
import hashlib
import json
import math
import os
import tempfile
import time
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.campaigns.mutants import fork_server
from tests.campaigns.mutants.fault import Fault, swaps

ROOT = Path(__file__).parents[3]
EQUAL = Path(__file__).parent / "equal_faults.toml"
NOTICED = ("killed", "hangs", "dies")
BOOK = "tests/engine/book"


@dataclass(frozen=True)
class Package:
    """Files to put faults into, and the tests beside them."""

    files: Sequence[str]
    tests: Sequence[str]


PACKAGES = {
    "merge": Package(["engine/merge/*.py"],
                     ["tests/engine/merge/test_sync_values.py",
                      "tests/engine/merge/test_merge_of_books.py",
                      "tests/engine/merge/test_what_a_merge_tells.py",
                      "tests/engine/merge/test_sync_decisions.py"]),
    "log": Package(["engine/log/*.py"],
                   ["tests/engine/log", "tests/engine/merge/test_what_merges_decide.py",
                    *(f"{BOOK}/{name}.py" for name in (
                        "test_what_history_says", "test_wrong_clocks",
                        "test_odd_texts_in_history", "test_rewritten_past"))]),
    "transaction": Package(
        [f"engine/book/{name}.py" for name in (
            "transaction", "saving", "mending", "intent", "inking", "chosen", "commit_words")],
        [f"{BOOK}/test_what_a_save_says.py", f"{BOOK}/test_saves_that_were_left.py",
         f"{BOOK}/test_saves_that_are_refused.py", f"{BOOK}/test_gits_index.py",
         f"{BOOK}/test_words_and_notes_of_saves.py", f"{BOOK}/test_words_of_refusals.py",
         f"{BOOK}/test_inking_what_was_named.py",
         f"{BOOK}/test_hand_edits.py", f"{BOOK}/test_inking_together.py",
         f"{BOOK}/test_life_of_records.py", f"{BOOK}/test_runs_and_sign_offs.py",
         "tests/engine/merge/test_sync_odd.py"],
    ),
    "checks": Package(["engine/checks/*.py"], ["tests/engine/checks"]),
    "figures": Package(["engine/figures/**/*.py"], ["tests/engine/figures"]),
}  # fmt: skip


def wilson(noticed: int, of: int, z: float = 1.959964) -> tuple[float, float]:
    """The interval of a share, both ends from 0 to 1."""
    if not of:
        return 0.0, 1.0
    share, wide = noticed / of, z * z / of
    middle = (share + wide / 2) / (1 + wide)
    half = z * math.sqrt(share * (1 - share) / of + wide / (4 * of)) / (1 + wide)
    return middle - half, middle + half


def sample(faults: Iterable[Fault], seed: int, most: int) -> list[Fault]:
    """As many faults as wanted: those whose names come first by a hash with the seed."""

    def place(fault: Fault) -> str:
        return hashlib.sha256(f"{seed} {fault.name}".encode()).hexdigest()

    return sorted(faults, key=place)[:most]


class Notes:
    """What was found out, by the name of the fault: lines of JSON, the last one counts."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.found: dict[str, dict[str, Any]] = {}
        if path.exists():
            for line in path.read_text().splitlines():
                note = json.loads(line)
                self.found[note["name"]] = note

    def add(self, fault: Fault, answer: dict[str, Any]) -> None:
        """Note it, with one write."""
        note = {"name": fault.name, "at": f"{fault.file}:{fault.line}", **answer}
        self.found[fault.name] = note
        with self.path.open("a") as file:
            file.write(json.dumps(note, ensure_ascii=False) + "\n")


def files_of(package: Package) -> list[Path]:
    """The files that faults are put into."""
    return sorted({file for pattern in package.files for file in ROOT.glob(pattern)})


def try_all(package: Package, faults: Sequence[Fault], notes: Notes) -> None:
    """Try faults one after another; needs a process that has not imported the project."""
    warm = _Warm([str(file.relative_to(ROOT)) for file in files_of(package)], package.tests)
    warm.learn()
    for number, fault in enumerate(faults, 1):
        answer = _answer(fault, warm)
        warm.kills[fault.file, answer.get("by", "")] += 1
        notes.add(fault, answer)
        print(f"{number}/{len(faults)} {answer['outcome']:7} {fault.file}:{fault.line} "
              f"{fault.name[:100]}", flush=True)  # fmt: skip
    warm.close()


def _answer(fault: Fault, warm: _Warm) -> dict[str, Any]:
    path = str(ROOT / fault.file)
    try:
        changed = swaps(fault, Path(path).read_text(), path)
    except SyntaxError as error:
        return {"outcome": "broken", "why": str(error)}
    afresh = changed is None or warm.on_import(fault)
    names = warm.tests_of(fault, everything=afresh)
    if not names:
        return {"outcome": "lives", "why": "no test reaches it"}
    cpu = fork_server.SLACK + fork_server.TIMES * sum(warm.seconds.get(n, 0) for n in names)
    if not afresh:
        return warm.ask({"path": path, "text": fault.text(), "names": names, "cpu": cpu})
    module, text = fork_server.module_of(fault.file), fault.text()
    return fork_server.forked(
        lambda: fork_server.tested_afresh(names, module, path, text), cpu + fork_server.SLACK
    )


class _Warm:
    """The process that has collected the tests, and what it told of them."""

    def __init__(self, files: Sequence[str], tests: Sequence[str]) -> None:
        self._down, down = os.pipe()
        up, self._up = os.pipe()
        self._pid = os.fork()
        if self._pid == 0:
            os.close(down)
            os.close(up)
            _serve(self._down, self._up, files, tests)
        os.close(self._down)
        os.close(self._up)
        self._send, self._get = os.fdopen(down, "w"), os.fdopen(up)
        self.seconds: dict[str, float] = {}
        self.kills: collections.Counter[tuple[str, str]] = collections.Counter()
        self._reached: dict[str, dict[str, set[int]]] = {}

    def ask(self, what: dict[str, Any]) -> dict[str, Any]:
        """Send one line, get one line."""
        self._send.write(json.dumps(what) + "\n")
        self._send.flush()
        answer: dict[str, Any] = json.loads(self._get.readline())
        return answer

    def learn(self) -> None:
        """All tests without a fault; one that fails while it is watched is left out, and told."""
        began = time.monotonic()
        found = self.ask({"learn": True})
        if "reached" not in found:
            raise SystemExit(f"the tests without a fault: {found}")
        for name in found["failed"]:
            print(f"left out, it fails without any fault: {name}")
            found["seconds"].pop(name, None)
        self.seconds = found["seconds"]
        for test, file, lines in fork_server.lines_of(found):
            self._reached.setdefault(test, {})[file] = lines
        print(f"{len(self.seconds)} tests, {time.monotonic() - began:.0f} s while watched")

    def tests_of(self, fault: Fault, everything: bool) -> list[str]:
        """Tests that reach the statement of a fault, likely and quick ones first.

        What runs on import may matter to any test: `everything` gives those that reach
        the file, then all others.
        """
        lines = set(range(fault.lines[0], fault.lines[1] + 1))

        def reaches(test: str) -> bool:
            at = self._reached.get(test, {}).get(fault.file, set())
            return bool(at if everything else at & lines)

        def place(test: str) -> tuple[bool, float]:
            return not reaches(test), self.seconds[test] / (1 + self.kills[fault.file, test])

        return sorted(filter(lambda test: everything or reaches(test), self.seconds), key=place)

    def on_import(self, fault: Fault) -> bool:
        """Whether the statement of a fault runs while modules are imported."""
        at = self._reached.get("", {}).get(fault.file, set())
        return bool(at & set(range(fault.lines[0], fault.lines[1] + 1)))

    def close(self) -> None:
        """Let it end."""
        self._send.close()
        os.waitpid(self._pid, 0)


def _serve(down: int, up: int, files: Sequence[str], tests: Sequence[str]) -> None:
    """The other process: answers line for line, never returns."""
    lines, out = os.fdopen(down), os.fdopen(up, "w")
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 1)
    tracer = fork_server.Tracer(files)

    def then(session: Any) -> None:
        for line in lines:
            out.write(json.dumps(_asked(session, tracer, json.loads(line))) + "\n")
            out.flush()

    try:
        tracer.start()
        fork_server.serve(tests, then, tracer)
    finally:
        os._exit(0)


def _asked(session: Any, tracer: fork_server.Tracer, what: dict[str, Any]) -> dict[str, Any]:
    if "learn" in what:
        return fork_server.forked(lambda: fork_server.reached(session, tracer), 3600.0)
    path = what["path"]
    fault = Fault("", path, 0, (0, 0), lambda: what["text"])

    def work() -> dict[str, Any]:
        if not fork_server.exchange(path, swaps(fault, Path(path).read_text(), path) or []):
            raise RuntimeError(f"no function of {path} could be exchanged")
        return fork_server.tested(session, what["names"])

    return fork_server.forked(work, what["cpu"])


def score(chosen: Sequence[Fault], notes: Notes) -> str:
    """The score in words."""
    equal = set(tomllib.loads(EQUAL.read_text()).get("equal", {}))
    counts: collections.Counter[str] = collections.Counter()
    for fault in chosen:
        outcome = notes.found.get(fault.name, {}).get("outcome", "untried")
        counts["equal" if fault.name in equal and outcome == "lives" else outcome] += 1
    noticed = sum(counts[name] for name in NOTICED)
    of = noticed + counts["lives"]
    low, high = wilson(noticed, of)
    return (f"{noticed} of {of} noticed: {100 * noticed / max(of, 1):.1f} % "
            f"({100 * low:.1f} to {100 * high:.1f}); {dict(counts)}")  # fmt: skip


def show(fault: Fault) -> str:
    """The change of one fault."""
    old, new = (ROOT / fault.file).read_text(), fault.text()
    return "\n".join(difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=2))


def main() -> int:
    """Run a sample, or tell of one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("package", choices=PACKAGES)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=300)
    parser.add_argument("--notes", type=Path, default=Path(tempfile.gettempdir()) / "faults")
    parser.add_argument("--again", default="", help="outcomes to be tried once more")
    parser.add_argument("--part", default="1/1", help="2/3: the second third of the sample")
    parser.add_argument("--score", action="store_true")
    parser.add_argument("--lives", action="store_true", help="list those that lived")
    parser.add_argument("--show", default="")
    wanted = parser.parse_args()
    from tests.campaigns.mutants.faults_made import in_files  # brings libraries of its own

    package = PACKAGES[wanted.package]
    faults = in_files(files_of(package), ROOT)
    chosen = sample(faults, wanted.seed, wanted.most)
    wanted.notes.mkdir(exist_ok=True)
    notes = Notes(wanted.notes / f"{wanted.package}.jsonl")
    if wanted.show:
        print("\n".join(show(f) for f in faults if wanted.show in f.name))
        return 0
    if not wanted.score and not wanted.lives:
        again = set(wanted.again.split(",")) - {""}
        left = [f for f in chosen if notes.found.get(f.name, {"outcome": ""})["outcome"] in again
                or f.name not in notes.found]  # fmt: skip
        part, parts = map(int, wanted.part.split("/"))
        print(f"{len(faults)} faults, {len(chosen)} chosen, {len(left)} to try", flush=True)
        if left:
            try_all(package, left[part - 1 :: parts], notes)
    if wanted.lives:
        equal = set(tomllib.loads(EQUAL.read_text()).get("equal", {}))
        for fault in sorted(chosen, key=lambda fault: (fault.file, fault.line)):
            note = notes.found.get(fault.name, {})
            if note.get("outcome") == "lives" and fault.name not in equal:
                print(f"{fault.file}:{fault.line} {fault.name} {note.get('why', '')}")
    print(score(chosen, notes))
    return 0
