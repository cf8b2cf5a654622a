"""The list of a large book on a screen, over a terminal line: times, bytes and memory.

    python tests/benchmarks/bench_screens.py DIR    # a book that big_book.py made; it is copied

Keys are pressed one after another, each timed from the press to the last byte that it brings.
It judges nothing: a machine that does other work shows other times. The bytes are the same.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import pexpect

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

PROGRAM = """
import sys
from pathlib import Path
from engine.book import Book
from tui.app import run
folder = Path(sys.argv[1])
sys.exit(run(lambda person: Book.open(folder, as_person="mirela"), ""))
"""
_QUIET = 25.0  # seconds without a byte: longer than any step of the checks
PAGE_DOWN, HOME, ESCAPE = "\x1b[6~", "\x1b[H", "\x1b"


class Screen:
    """The program at the other end of a line of 80 by 24."""

    def __init__(self, folder: Path, cache: Path) -> None:
        environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLORTERM")}
        environment |= {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        environment |= {"XDG_CACHE_HOME": str(cache), "XDG_STATE_HOME": str(cache)}
        self.began = time.perf_counter()
        self.child = pexpect.spawn(
            sys.executable, ["-c", PROGRAM, str(folder)],
            env=environment, dimensions=(24, 80), timeout=600,  # type: ignore[arg-type]
        )  # fmt: skip

    def until(self, words: bytes) -> float:
        """Seconds since the start until some words came."""
        self.child.expect_exact(words)
        return time.perf_counter() - self.began

    def press(self, keys: str, quiet: float = 0.35) -> tuple[float, int]:
        """Seconds to the last byte that some keys bring, and how many bytes."""
        start, last, count = time.perf_counter(), 0.0, 0
        self.child.send(keys)
        while True:
            try:
                came = self.child.read_nonblocking(65536, timeout=quiet)
            except pexpect.TIMEOUT:
                return last, count
            last, count = time.perf_counter() - start, count + len(came)

    def rest(self, seconds: float) -> int:
        """How many bytes come while nobody presses a key."""
        return self.press("", seconds)[1]

    def memory(self) -> int:
        """MB that the process holds."""
        pages = Path(f"/proc/{self.child.pid}/statm").read_text().split()[1]
        return int(pages) * os.sysconf("SC_PAGE_SIZE") // 2**20

    def close(self) -> None:
        """End it."""
        self.child.close(force=True)


def say(what: str, times: Sequence[tuple[float, int]]) -> None:
    """Median and the 95th of a hundred, in ms, and the bytes of one."""
    taken = sorted(seconds for seconds, _ in times)
    high = taken[min(int(len(taken) * 0.95), len(taken) - 1)]
    size = statistics.median(size for _, size in times)
    print(f"{what:44} {statistics.median(taken) * 1e3:7.0f} ms   p95 {high * 1e3:7.0f} ms   "
          f"{size:7.0f} bytes")  # fmt: skip


def measure(folder: Path, cache: Path) -> None:
    """Nothing known at first, then once more with all that was found."""
    screen = Screen(folder, cache)
    print(f"{'names, nothing known before':44} {screen.until(b'job-0000'):7.2f} s")
    screen.rest(1.0)
    say("page down while it is checked", [screen.press(PAGE_DOWN) for _ in range(20)])
    say("letter of a search while it is checked", [screen.press(k) for k in ("/", *"job-1")])
    screen.press(ESCAPE)
    first = screen.until(b"error")  # what the checks say of the records in view
    print(f"{'findings in view, far down the list':44} {first:7.0f} s")
    while screen.rest(_QUIET):
        pass
    print(f"{'all of it known, at most':44} {time.perf_counter() - screen.began - _QUIET:7.0f} s")
    print(f"{'memory':44} {screen.memory():7.0f} MB")
    screen.press(HOME)
    say("page down", [screen.press(PAGE_DOWN) for _ in range(20)])
    say("letter of a search", [screen.press(k) for k in ("/", *"job-1")])
    screen.close()
    screen = Screen(folder, cache)
    print(f"{'names, all known before':44} {screen.until(b'job-0000'):7.2f} s")
    screen.close()


def main() -> None:
    """As a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("book", type=Path)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        copy = shutil.copytree(wanted.book, Path(place) / "book", symlinks=True)
        measure(copy, Path(place) / "cache")


if __name__ == "__main__":
    main()
