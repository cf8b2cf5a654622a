"""How fast a part program is read, beside a plain count of its lines.

Run `python tests/benchmarks/bench_programs.py [MEGABYTES]`. A long program is made
of the demo's own, written to a file, and read as facts; the plain count walks the
same file line by line and hashes it, which no reader can do without. Says numbers,
judges nothing; the best of three counts.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from engine.programs import compare_programs, read_program  # noqa: E402

SOURCES = ("m0093_top.nc", "m0107.nc", "ti_cup_3.nc")
TIMES = 3


def text(size: int) -> bytes:
    """A program of about so many bytes: the demo's lines over and over, with other numbers."""
    bodies = [(ROOT / "demo_jobs/programs" / name).read_bytes() for name in SOURCES]
    lines = [
        line
        for body in bodies
        for line in body.split(b"\n")
        if line and line != b"%" and not line.startswith((b"M2", b"M30", b"M99"))
    ]
    made, number, total = [b"%"], 0, 0
    while total < size:
        line = b"N%d %s" % (number % 99_999, lines[number % len(lines)])
        made.append(line)
        number, total = number + 1, total + len(line) + 1
    return b"\n".join([*made, b"M30", b"%", b""])


def best(work: Callable[[], object]) -> float:
    """The shortest of a few times, in seconds."""
    taken = []
    for _ in range(TIMES):
        begins = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begins)
    return min(taken)


def count_lines(path: Path) -> int:
    """Lines of a file, hashed on the way."""
    digest, count = hashlib.sha256(), 0
    with path.open("rb") as file:
        for line in file:
            digest.update(line)
            count += 1
    return count


def main(megabytes: float) -> None:
    """Print speeds and ratios."""
    data = text(int(megabytes * 1e6))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.nc"
        path.write_bytes(data)
        plain = best(lambda: count_lines(path))
        reading = best(lambda: read_program(str(path)))
    size = len(data) / 1e6
    print(f"{size:.1f} MB, {data.count(bytes([10]))} lines")
    print(f"plain count of lines: {size / plain:.1f} MB/s")
    print(f"read_program: {size / reading:.1f} MB/s, {reading / plain:.1f} x the plain count")
    short = data[:1_000_000]
    other = short.replace(b"F1500", b"F1450")
    one = best(lambda: read_program(short))
    two = best(lambda: compare_programs(short, other))
    print(f"compare_programs of two of 1.0 MB: {two:.2f} s, {two / one:.1f} x reading one")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 5.0)
