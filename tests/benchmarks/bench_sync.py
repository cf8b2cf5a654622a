"""Sync after a long absence: three boxes, so many saves on each side; prints, judges nothing.

    python tests/benchmarks/bench_sync.py            # books of 50, 500 and 2,000 records
    python tests/benchmarks/bench_sync.py --small    # a smoke run of seconds
    python tests/benchmarks/bench_sync.py --book DIR # a copy of one that big_book.py made

Each box makes its own 1,000 saves of values on the same book, unaware of the others. Then
the first sends, the second merges and sends, the third merges and sends, and the first
takes all of it in. Beside them stand git's fetch and merge of the same two sides, which
knows lines and no values: what it cannot join by lines, it leaves.
"""

from __future__ import annotations

import random
import resource
import shutil
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.big_book import Text, books_to_measure  # noqa: E402

SAVES = 1_000
BOXES = {"office": "ifeoma", "floor1": "mirela", "floor2": "mirela"}  # who sits there
BEGINS = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
GIT = ["git", "-c", "gc.auto=0", "-c", "user.name=jun", "-c", "user.email=jun@witnessmark"]


def git(folder: Path, *words: str, data: bytes = b"", fails: bool = False) -> str:
    """Plain git's output."""
    command = [*GIT, *words]
    done = subprocess.run(command, cwd=folder, input=data, capture_output=True, check=not fails)
    return done.stdout.decode().strip()


def apart(box: Path, person: str, saves: int) -> None:
    """So many saves of one person on a box: busy records and calm ones, as in `big_book`."""
    dice = random.Random(box.name)
    texts = {file.name: Text(file.read_text().split("\n")) for file in (box / "records").iterdir()}
    for text in texts.values():  # a comment by hand behind a value stays as it is
        text.places = [place for place in text.places if "#" not in text.lines[place]]
    texts = {name: text for name, text in sorted(texts.items()) if text.places}
    busy = [min(dice.paretovariate(1.1), 60.0) for _ in texts]
    made, at, parent = [], BEGINS, git(box, "rev-parse", "HEAD")
    for mark in range(1, saves + 1):
        name = dice.choices(list(texts), busy)[0]
        text = texts[name]
        key = next(line for line in text.lines if line.startswith('id = "'))[6:-1]
        what = f"{name.removesuffix('.toml')}: {text.change(dice)}"
        at += timedelta(minutes=dice.randrange(5, 90))
        trailers = f"Kind: ink\nRecord: {key}\nPerson: {person}\nLogin: {person}\nReason: apart\n"
        message = f"{what}\n\n{what}\n\n{trailers}".encode()
        stamp = f"{person.title()} <{person}@witnessmark> {int(at.timestamp())} +0100"
        head = f"commit refs/heads/main\nmark :{mark}\nauthor {stamp}\ncommitter {stamp}\n"
        data = text.bytes()
        made.append(head.encode() + b"data %d\n" % len(message) + message + b"\n")
        made.append(f"from {parent}\nM 100644 inline records/{name}\n".encode())
        made.append(b"data %d\n" % len(data) + data + b"\n")
        parent = f":{mark}"
    git(box, "fast-import", "--quiet", "--force", data=b"".join(made))
    git(box, "reset", "-q", "--hard", "main")


def spent() -> float:
    """Processor time of this process and of the children that it waited for, in seconds."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def measure(book: Path, room: Path, saves: int) -> None:
    """The rows of one book, which is left as it is."""
    from engine.book import Book

    hub = room / "hub.git"
    git(room, "clone", "-q", "--bare", str(book), str(hub))
    for box, person in BOXES.items():
        git(room, "clone", "-q", str(hub), box)
        apart(room / box, person, saves)
    records = len(list((book / "records").iterdir()))
    print(f"\n{records} records, {git(hub, 'rev-list', '--count', 'HEAD')} saves, "
          f"{saves} more on each of three boxes; wall (processor)")  # fmt: skip
    shutil.copytree(room / "floor1", room / "by-git", symlinks=True)
    begins, used = time.perf_counter(), spent()
    git(room / "by-git", "fetch", "-q", str(room / "office"), "main")
    git(room / "by-git", "merge", "-q", "-m", "by git", "FETCH_HEAD", fails=True)
    print(f"  {'git fetch, git merge':44} {time.perf_counter() - begins:6.1f} s "
          f"({spent() - used:5.1f})")  # fmt: skip
    books = {}
    for box, person in BOXES.items():
        books[box] = Book.open(room / box, as_person=person)
        books[box].list_records(findings=False)  # what was there is known; the index is made
    for box in (*BOXES, "office"):
        begins, used = time.perf_counter(), spent()
        done = books[box].sync()
        taken = time.perf_counter() - begins
        counts = f"{len(done.came)} came, {len(done.went)} went, {len(done.contested)} disputed"
        print(f"  {'sync of ' + box:44} {taken:6.1f} s ({spent() - used:5.1f})   {counts}"
              f"{' ' + done.problem if done.problem else ''}", flush=True)  # fmt: skip
    for each in books.values():
        each.close()


def main() -> None:
    """Measure each book."""
    for book, room, small in books_to_measure(__doc__):
        measure(book, room, 50 if small else SAVES)


if __name__ == "__main__":
    main()
