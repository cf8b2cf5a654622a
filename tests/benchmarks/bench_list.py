"""The list and the checks of a book, as people call them: whole processes, nothing known at first.

    python tests/benchmarks/bench_list.py            # books of 50, 500 and 2,000 records
    python tests/benchmarks/bench_list.py --small    # a smoke run of seconds
    python tests/benchmarks/bench_list.py --book DIR # one that big_book.py made; it is copied

Elapsed seconds, processor seconds of all processes, and the memory of the largest one. Nothing
here fails for a time.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.big_book import books_to_measure  # noqa: E402

SELF = [sys.executable, "-m", "tui.main"]


def command(what: str, folder: Path, *words: str) -> None:
    """Run one command and say what it took."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [*SELF, *words, "--book", str(folder), "--as", "mirela"], cwd=ROOT, capture_output=True,
        check=False,
    )  # fmt: skip
    taken, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode in (0, 1), done.stderr.decode()  # 1: there is an error to find
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"  {what:48} {taken:7.2f} s elapsed {spent:7.2f} s of processors "
          f"{after.ru_maxrss / 1e3:5.0f} MB at most so far", flush=True)  # fmt: skip


def measure(folder: Path) -> None:
    """All of one book."""
    names = sorted(path.stem for path in (folder / "records").iterdir())
    print(f"\n{len(names)} records")
    command("names, neither past nor findings known", folder, "list", "--no-wait")
    command("the past read (a trace)", folder, "trace", names[0], "jaws.bite")
    command("names, findings not known", folder, "list", "--no-wait")
    command("check, nothing kept", folder, "check")
    command("check once more", folder, "check")
    command("list, findings and all", folder, "list")
    value = ("lot.quantity=77", "--ink", "--only-this", "--reason", "measured")
    command("one ink", folder, "set", names[0], *value)
    command("check after one ink", folder, "check")
    command("list after one ink", folder, "list")
    command("check of one record", folder, "check", names[1])


def main() -> None:
    """Measure each book."""
    for book, _, _ in books_to_measure(__doc__):
        measure(book)


if __name__ == "__main__":
    main()
