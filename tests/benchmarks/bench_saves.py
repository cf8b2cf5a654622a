"""A durable ink beside `git add` and `git commit`, in an open program: says ratios only.

    python tests/benchmarks/bench_saves.py            # books of 50, 500 and 2,000 records
    python tests/benchmarks/bench_saves.py --small    # a smoke run of seconds
    python tests/benchmarks/bench_saves.py --book DIR # a copy of one that big_book.py made

Inks and commits by git take turns, each in a book of its own on the same disk, so that
other work on the machine meets both; git flushes as much as the program asks it to.
Both are told as medians of wall time and of processor time (children included).
`until durable` ends when the transaction answers: what a power cut keeps from then on.
Figures come after it. Starting the program is told apart.
"""

from __future__ import annotations

import resource
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.big_book import books_to_measure  # noqa: E402
from tests.mini_book import session_of  # noqa: E402

GIT = ["git", "-c", "gc.auto=0", "-c", "core.fsync=all", "-c", "core.fsyncMethod=fsync"]
GIT += ["-c", "user.name=jun", "-c", "user.email=jun@witnessmark"]
TURNS = 21

Taken = tuple[float, float]  # seconds of the wall, of the processor


def spent() -> float:
    """Processor time of this process and of the children that it waited for, in seconds."""
    ours, theirs = (
        resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return ours.ru_utime + ours.ru_stime + theirs.ru_utime + theirs.ru_stime


def timed(act: Callable[[], object]) -> Taken:
    """What an act takes."""
    wall, used = time.perf_counter(), spent()
    act()
    return time.perf_counter() - wall, spent() - used


def median(taken: list[Taken]) -> Taken:
    """The middle of both, the first left out: it warms up."""
    return (
        statistics.median(wall for wall, _ in taken[1:]),
        statistics.median(used for _, used in taken[1:]),
    )


def line(what: str, ours: Taken, theirs: Taken | None = None) -> None:
    """One measured row, and its ratio to git's."""
    ratio = f"   {ours[0] / theirs[0]:5.2f} x git ({ours[1] / theirs[1]:.2f})" if theirs else ""
    print(f"  {what:44} {ours[0] * 1000:8.1f} ms ({ours[1] * 1000:7.1f}){ratio}", flush=True)


def inks(folder: Path, room: Path) -> None:
    """The rows of one book, which is written to."""
    from engine.book import Book
    from engine.book.transaction import CommitPlan, Committed

    plain = room / "plain"
    shutil.copytree(folder, plain, symlinks=True)
    subprocess.run([*GIT, "status"], cwd=plain, capture_output=True, check=True)
    begins = time.perf_counter()
    book = Book.open(folder, as_person="mirela")
    opened = time.perf_counter() - begins
    session = session_of(book)
    book.list_records(findings=False)
    names = [held.name for held in session.places("record")]
    print(f"\n{len(names)} records, {session.past.count()} saves; wall (processor)")
    print(f"  {'opening the book':44} {opened * 1000:8.1f} ms")
    durable: list[Taken] = []
    commit = session.inker.commit

    def watched(make: Callable[[str], tuple[CommitPlan, object]]) -> Committed[object]:
        answers: list[Committed[object]] = []
        durable.append(timed(lambda: answers.append(commit(make))))
        return answers[0]

    session.inker.commit = watched  # type: ignore[method-assign]
    document, other = book.document(names[0]), plain / "records" / f"{names[-1]}.toml"
    whole, by_hand, pencils = [], [], []

    def commit_by_hand() -> None:
        subprocess.run([*GIT, "add", str(other)], cwd=plain, check=True)
        words = ["commit", "-q", "-m", "by hand"]
        subprocess.run([*GIT, *words], cwd=plain, check=True)

    for turn in range(TURNS):
        quantity = str(1000 + turn)
        pencils.append(timed(lambda q=quantity: document.pencil.set("lot.quantity", q)))
        whole.append(timed(lambda: document.ink("measured")))
        other.write_bytes(other.read_bytes() + b"# %d\n" % turn)
        by_hand.append(timed(commit_by_hand))
    line("git add, git commit", median(by_hand))
    line("an ink until durable", median(durable), median(by_hand))
    line("  with figures, when it answers", median(whole), median(by_hand))
    line("a value in pencil before it", median(pencils))
    book.close()


def main() -> None:
    """Measure each book."""
    for book, room, _ in books_to_measure(__doc__):
        inks(book, room)


if __name__ == "__main__":
    main()
