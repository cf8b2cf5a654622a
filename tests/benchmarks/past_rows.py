"""Questions about the past of the whole book beside git, for `bench_history.py`.

Whole commands as people call them, and the same question inside an open program; git's own
answer, as far as it has one, is measured in the same run.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).parents[2]
_BUILD = """
import sys, time, resource
from pathlib import Path
from engine.log import index_file
from engine.log.index import IndexedPast
from engine.repo.git import Git
git = Git(Path(sys.argv[1]))
file = index_file.place_of(git.folder)
index_file.throw_away(file)
began, spent = time.perf_counter(), time.process_time()
IndexedPast(git, file).refresh(git.head())
took, spent = time.perf_counter() - began, time.process_time() - spent
print(took, spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000)
"""


@dataclass(frozen=True)
class Tools:
    """How `bench_history` measures and prints."""

    line: Callable[[str, float, float, str], None]
    said: Callable[[str, str], None]
    timed: Callable[..., float]
    cold: Callable[..., None]
    read: Callable[..., None]


def build(folder: Path) -> tuple[float, float, float]:
    """Build the index in a process of its own: seconds, processor seconds, MB at most."""
    done = subprocess.run([sys.executable, "-c", _BUILD, str(folder)], cwd=ROOT, check=True,
                          capture_output=True, text=True)  # fmt: skip
    took, spent, peak = map(float, done.stdout.split())
    return took, spent, peak


def spent_by_children(act: Callable[[], object]) -> float:
    """Processor seconds of the processes that an act starts: what other work does not stretch."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    act()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def questions(folder: Path, person: str, name: str, address: str, tools: Tools) -> None:
    """The rows about the past of the whole book."""
    from engine.book import Book

    line, said, timed = tools.line, tools.said, tools.timed
    cold, read = tools.cold, tools.read
    book = Book.open(folder, as_person="mirela")
    records = [item.record for item in book.list_records(findings=False)]
    end = book.document(name).past.life()[-1].saved.when
    for words, days in (("a week", 7), ("a year", 365)):
        begin = end - timedelta(days=days)
        day = f"{begin:%Y-%m-%d}"
        ours = timed(lambda begin=begin: book.since(begin, records), 1)
        changed = sum(bool(item.changes) for item in book.since(begin, records).values())
        said(f"what changed in all records since {words}", f"{ours:.2f} s, {changed} records")
        command = ("diff", "--all", "--since", day, "--format", "json")
        cpu = spent_by_children(lambda command=command: cold(folder, *command))
        said("  as a command, with what it does to the figures", f"{cpu:.1f} s of processor time")
    since = end - timedelta(days=365)
    by_git = timed(lambda: read(folder, "log", "-p", f"--author={person}@",
                                f"--since={since.isoformat()}"), 1)  # fmt: skip
    page = timed(lambda: book.history(person=person, since=since), 5)
    line("a person's year, the first page", page, by_git, "git log -p --author --since")
    every = timed(lambda: sum(1 for _ in book.every_change(person=person, since=since)), 3)
    line("  all of it", every, by_git, "")
    command = ("history", "--person", person, "--since", f"{since:%Y-%m-%d}")
    line("  as a command", timed(lambda: cold(folder, *command), 3), by_git, "")
    one = timed(lambda: book.history(name=name, address=address), 5)
    path = f"records/{book.document(name).name}.toml"
    own = timed(lambda: read(folder, "log", "-p", "--follow", "--", path), 1)
    line("history of a record's address", one, own, "git log -p --follow")
    moved = timed(lambda: book.moved(address=address, since=since), 3)
    said("what moved at an address since a year", f"{moved * 1000:.0f} ms")
    day, low = end - timedelta(days=400), Decimal(-1_000_000)
    stood = timed(lambda: book.stood(address, day, below=low), 1)
    said("what stood below a number on a day, none", f"{stood * 1000:.0f} ms")
    book.close()
