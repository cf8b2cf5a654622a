"""History beside git on the same book, in one run: prints ratios, never fails for a time.

    python tests/benchmarks/bench_history.py            # 50/1,000, 500/10,000, 2,000/100,000
    python tests/benchmarks/bench_history.py --small    # a smoke run of seconds
    python tests/benchmarks/bench_history.py --book DIR # one that big_book.py made

Every figure is the median of some tries; git runs with the same settings and nothing
else in the way. `fsyncs` are counted with strace where it is there.
"""

from __future__ import annotations

import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.big_book import books_to_measure  # noqa: E402
from tests.benchmarks.past_rows import Tools, build, questions  # noqa: E402
from tests.mini_book import session_of  # noqa: E402

GIT = ["git", "-c", "gc.auto=0", "-c", "core.fsync=all", "-c", "core.fsyncMethod=fsync"]
GIT += ["-c", "user.name=jun", "-c", "user.email=jun@witnessmark"]


def timed(act: Callable[[], object], tries: int = 3) -> float:
    """Median of the seconds that an act takes."""
    taken = []
    for _ in range(tries):
        start = time.perf_counter()
        act()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def git(folder: Path, *words: str, data: bytes | None = None) -> bytes:
    """Plain git's output."""
    done = subprocess.run([*GIT, *words], cwd=folder, input=data, capture_output=True, check=True)
    return done.stdout


def read(folder: Path, *words: str, data: bytes | None = None) -> None:
    """Plain git at work, its output thrown away as it comes."""
    null = subprocess.DEVNULL
    subprocess.run([*GIT, *words], cwd=folder, input=data, stdout=null, check=True)


def line(what: str, ours: float, theirs: float, beside: str) -> None:
    """One measured pair."""
    ratio = f"{theirs / ours:7.1f} x faster" if ours < theirs else f"{ours / theirs:7.2f} x as long"
    print(f"  {what:44} {ours * 1000:10.1f} ms   {beside:38} {theirs * 1000:10.1f} ms {ratio}")


def said(what: str, value: str) -> None:
    """One measured thing that git has no like of."""
    print(f"  {what:44} {value}", flush=True)


def cold(folder: Path, *words: str) -> None:
    """A command in a process of its own."""
    command = [sys.executable, "-m", "tui.main", "--book", str(folder), "--as", "mirela", *words]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr  # 1: something differs


def measure(folder: Path) -> None:
    """All figures of one book."""
    from engine.book import Book
    from engine.book.transaction import CommitPlan, Committed
    from engine.log import index_file
    from engine.repo.git import Git

    plain = Git(folder)
    file = index_file.place_of(folder)
    index_file.throw_away(file)
    print(f"\n{len(list((folder / 'records').iterdir()))} records, "
          f"{git(folder, 'rev-list', '--count', 'HEAD').decode().strip()} saves")  # fmt: skip

    # the index
    building, spent, peak = build(folder)
    log = ("log", "--topo-order", "--reverse", "--raw", "-z", "-m", "--root", "--no-abbrev",
           "--no-renames", "--format=%H%x00%P%x00%an%x00%ae%x00%ad%x00%B")  # fmt: skip
    raw = git(folder, "log", "--raw", "--no-abbrev", "--no-renames", "--format=", "-m", "--",
              "records", "cells", "book.toml", "people.toml")  # fmt: skip
    blobs = b"\n".join(sorted({row.split()[3] for row in raw.splitlines()} - {b"0" * 40})) + b"\n"
    streaming = timed(lambda: read(folder, *log), 1)
    streaming += timed(lambda: read(folder, "cat-file", "--batch", data=blobs), 1)
    del raw
    line("building the index", building, streaming, "git: log and cat-file, same blobs")
    said("  of which this program's own processor time", f"{spent:.1f} s; {peak:.0f} MB at most")
    packed = sum(f.stat().st_size for f in (folder / ".git/objects/pack").glob("*.pack"))
    said("size of the index", f"{file.stat().st_size / 1e6:.1f} MB, of the packed history "
         f"{packed / 1e6:.1f} MB")  # fmt: skip

    # questions
    book = Book.open(folder, as_person="mirela")
    session = session_of(book)
    first = timed(lambda: book.list_records(findings=False), 1)
    said("the first list after the index was made", f"{first * 1000:.0f} ms")
    last = session.past.last_steps()
    busy = max(last, key=lambda key: last[key][0])
    name = session.name_of_key(busy)
    found = [row.address for row in session.past.rows(busy, lambda _: True)]
    address = Counter(found).most_common(1)[0][0]
    changes = len(book.document(name).past.trace(address))
    number = git(folder, "grep", "-n", f"^{address.rpartition('.')[2]} =", "HEAD", "--",
                 f"records/{name}.toml").decode().split(":")[2]  # fmt: skip
    path = f"records/{name}.toml"
    ours = timed(lambda: book.document(name).past.trace(address), 9)
    said("the busiest value", f"{changes} changes in {last[busy][0]} saves of its record")
    line("trace, freshness check included", ours,
         timed(lambda: read(folder, "log", "-p", "--follow", "--", path), 1),
         "git log -p --follow")  # fmt: skip
    line("", ours, timed(lambda: read(folder, "log", f"-L{number},+1:{path}"), 1), "git log -L")
    calm = sorted(last, key=lambda key: last[key][0])[len(last) // 2]
    calm_name = session.name_of_key(calm)
    ours = timed(lambda: book.document(calm_name).past.trace("blank.height"), 9)
    line("trace of a record of middling life", ours,
         timed(lambda: read(folder, "log", "-p", "--follow", "--", f"records/{calm_name}.toml"), 1),
         "git log -p --follow")  # fmt: skip
    said("trace as a cold command", f"{timed(lambda: cold(folder, 'trace', name, address)):.3f} s")
    last_saves = [session.past.saved(step.saved.id) for _, step in last.values()]
    person = Counter(s.who.key for s in last_saves if s).most_common(1)[0][0]

    questions(folder, person, name, address, Tools(line, said, timed, cold, read))
    some = sorted(last)[:20]
    paths = [f"records/{session.name_of_key(key)}.toml" for key in some]
    each = timed(lambda: [read(folder, "log", "-1", "--", p) for p in paths], 1)
    each *= len(last) / len(some)
    ours = timed(lambda: book.list_records(findings=False))
    line("list with last change", ours, each, "git log -1 for each file (from 20)")
    line("", ours, timed(lambda: read(folder, "log", "--name-only", "--format=%H"), 1),
         "git log --name-only")  # fmt: skip

    def opened() -> None:
        code = (f"from pathlib import Path; from engine.book import Book; "
                f"b = Book.open(Path({str(folder)!r}), as_person='mirela'); "
                f"b.list_records(findings=False)")  # fmt: skip
        subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)

    said("opening the list, cold process included", f"{timed(opened, 5):.3f} s")

    # saving
    def pencilled(n: int) -> None:
        book.document(calm_name).pencil.set("lot.quantity", str(100 + n))

    inks, updates, commits = [], [], []
    until_saved: list[float] = []
    plain_commit = session.inker.commit

    def watched(make: Callable[[str], tuple[CommitPlan, object]]) -> Committed[object]:
        start = time.perf_counter()
        made = plain_commit(make)
        until_saved.append(time.perf_counter() - start)
        return made

    session.inker.commit = watched  # type: ignore[method-assign]
    for n in range(7):
        pencilled(n)
        inks.append(timed(lambda: book.document(calm_name).ink("measured"), 1))
        updates.append(timed(lambda: book.document(calm_name).past.trace("blank.height"), 1))
    other = folder / "records" / f"{session.name_of_key(some[0])}.toml"
    for n in range(7):
        text = other.read_bytes()
        other.write_bytes(text + b"# %d\n" % n)
        start = time.perf_counter()
        git(folder, "add", str(other))
        git(folder, "commit", "-q", "-m", "by hand", "--", str(other))
        commits.append(time.perf_counter() - start)
    git(folder, "reset", "-q", "--hard", f"HEAD~{len(commits)}")
    by_git = statistics.median(commits)
    line("a durable ink, figures looked at", statistics.median(inks), by_git, "git add, git commit")
    line("  of which until all of it is on the disk", statistics.median(until_saved), by_git, "")
    said(
        "the index brought up to date after one save", f"{statistics.median(updates) * 1000:.0f} ms"
    )
    _fsyncs(folder, calm_name, other)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    said("memory at most, in this process", f"{peak:.0f} MB")
    book.close()
    plain.close()


def _fsyncs(folder: Path, name: str, other: Path) -> None:
    """Flushes of one save, ours and git's, where strace is there."""
    if shutil.which("strace") is None:
        return said("fsyncs", "not counted: no strace here")
    counts = []
    ink = [sys.executable, "-m", "tui.main", "--book", str(folder), "--as", "mirela", "set", name,
           "lot.quantity=77", "--ink", "--reason", "counted"]  # fmt: skip
    by_hand = [[*GIT, "add", str(other)], [*GIT, "commit", "-q", "-m", "x", "--", str(other)]]
    other.write_bytes(other.read_bytes() + b"# counted\n")
    for commands, where in (([ink], ROOT), (by_hand, folder)):
        count = 0
        for command in commands:
            with tempfile.NamedTemporaryFile() as seen:
                subprocess.run(["strace", "-f", "-e", "trace=fsync,fdatasync", "-o", seen.name,
                                *command], cwd=where, capture_output=True, check=False)  # fmt: skip
                count += Path(seen.name).read_text().count("sync(")
        counts.append(count)
    git(folder, "reset", "-q", "--hard", "HEAD~1")
    said("fsyncs of a save (pencil included), of git's", f"{counts[0]}, {counts[1]}")
    return None


def main() -> None:
    """Measure each book."""
    for book, _, _ in books_to_measure(__doc__):
        measure(book)


if __name__ == "__main__":
    main()
