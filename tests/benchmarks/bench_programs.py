"""How fast a part program is read, beside a plain count of its lines.

Run `python tests/benchmarks/bench_programs.py [MEGABYTES]` (20 where none are named).
Two long programs are made of the demo's own: one of its milling moves, and one of all
that its programs say, in which no line of numbers comes twice, so that nothing can be
remembered. Each is written to a file and read as facts; the plain count walks the same
file line by line and hashes it, which no reader can do without. Says CPU time and what
memory was asked for at most; judges nothing; the best of three counts.
"""

from __future__ import annotations

import hashlib
import re
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from engine.programs import compare_programs, read_program  # noqa: E402

FOLDER = ROOT / "demo_jobs/programs"
MOVES = ("m0093_top.nc", "m0107.nc", "ti_cup_3.nc")
TIMES = 3
_ENDS = re.compile(rb"^/?(?:N\d+ *)?(?:M0*(?:2|30|99)|%|O\d)")
_VALUE = re.compile(rb"(?<=[XYZ])(-?\d+)(?:\.\d*)?")


def text(size: int, names: tuple[str, ...] = MOVES, *, varied: bool = False) -> bytes:
    """A program of about so many bytes: the demo's lines over and over, numbered.

    `varied`: each time with other digits behind the point of its coordinates.
    """
    bodies = [(FOLDER / name).read_bytes() for name in names]
    lines = [
        line for body in bodies for line in body.split(b"\n") if line and not _ENDS.match(line)
    ]
    made, number, total = [b"%"], 0, 0
    while total < size:
        line = lines[number % len(lines)]
        if varied:
            line = _VALUE.sub(rb"\g<1>.%03d" % (number // len(lines) % 1000), line)
        if not line.startswith((b"N", b"/", b"(")):
            line = b"N%d %s" % (number % 99_999, line)
        made.append(line)
        number, total = number + 1, total + len(line) + 1
    return b"\n".join([*made, b"M30", b"%", b""])


def best(work: Callable[[], object]) -> float:
    """The shortest of a few times, in seconds of the processor."""
    taken = []
    for _ in range(TIMES):
        begins = time.process_time()
        work()
        taken.append(time.process_time() - begins)
    return min(taken)


def count_lines(path: Path) -> int:
    """Lines of a file, hashed on the way."""
    digest, count = hashlib.sha256(), 0
    with path.open("rb") as file:
        for line in file:
            digest.update(line)
            count += 1
    return count


def measure(name: str, data: bytes) -> None:
    """Print the speed of reading one text, and its ratio to the plain count."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.nc"
        path.write_bytes(data)
        plain = best(lambda: count_lines(path))
        reading = best(lambda: read_program(str(path)))
        tracemalloc.start()
        facts = read_program(str(path))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    size, lines = len(data) / 1e6, data.count(b"\n")
    print(f"{name}: {size:.1f} MB, {lines} lines, {facts.problems.count} problems")
    print(f"  plain count of lines: {size / plain:.1f} MB/s")
    print(f"  read_program: {size / reading:.1f} MB/s, {reading / plain:.0f} x the plain count")
    print(f"  {reading / lines * 1e6:.1f} us a line, {peak / 1e6:.1f} MB of memory at most")


def main(megabytes: float) -> None:
    """Print speeds and ratios."""
    size = int(megabytes * 1e6)
    every = tuple(sorted(path.name for path in FOLDER.glob("*.nc")))
    measure("moves", text(size))
    measure("mixed, no line twice", text(size, every, varied=True))
    short = text(1_000_000)
    other = short.replace(b"F1500", b"F1450")
    one = best(lambda: read_program(short))
    two = best(lambda: compare_programs(short, other))
    print(f"compare_programs of two of 1.0 MB: {two:.2f} s, {two / one:.1f} x reading one")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0)
