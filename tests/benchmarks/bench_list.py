"""The list and the checks of a book, as people call them: whole processes, nothing known at first.

    python tests/benchmarks/bench_list.py            # books of 50, 500 and 2,000 records
    python tests/benchmarks/bench_list.py --small    # a smoke run of seconds
    python tests/benchmarks/bench_list.py --book DIR # one that big_book.py made; it is copied

Elapsed seconds, processor seconds of all processes, and the memory of the largest one. Nothing
here fails for a time.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.big_book import make_book, sizes  # noqa: E402

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
    """Make the books, or copy one, and measure each."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--small", action="store_true", help="a smoke run of seconds")
    parser.add_argument("--book", type=Path, help="a book that is there already")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        os.environ["XDG_CACHE_HOME"] = str(Path(made) / "cache")
        if wanted.book:
            measure(Path(shutil.copytree(wanted.book, Path(made) / "book", symlinks=True)))
            return
        for records, saves in sizes(wanted.small):
            measure(make_book(Path(made) / f"book-{records}", records, saves))


if __name__ == "__main__":
    main()
