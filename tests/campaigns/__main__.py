"""Every promise under attack, class by class; 1 where something failed.

    python -m tests.campaigns                        all classes, short: what CI runs
    python -m tests.campaigns faults kills --long    some of them at length
    python -m tests.campaigns faults --cases 100     a sample of the long form's points
    python -m tests.campaigns --long --report FILE   the table, for docs/promises.md

Each class prints one row. What went wrong is told below, with the seed that makes it again.
"""

# ruff: noqa: T201 (it is run by hand, too, and tells what it found)
from __future__ import annotations

import argparse
import importlib
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.campaigns.outcome import Kind, Outcome, Wanted


@dataclass(frozen=True)
class Class:
    """One class of attacks: the cases of its forms, and whether it wants the disk of `disk`."""

    short: int
    long: int
    disk: bool = False


CLASSES = {
    "accounts": Class(24, 320),
    "faults": Class(40, 3000, disk=True),
    "power-cuts": Class(36, 600, disk=True),
    "kills": Class(40, 2400, disk=True),
    "crowds": Class(40, 2000),
    "boxes": Class(1, 200),
    "hostile": Class(8, 900),
    "clocks": Class(8, 200),
    "meanwhile": Class(24, 400),
    "type-ahead": Class(3, 48),
    "fuzzing": Class(500, 100000),
    "index": Class(6, 240),
}


def main(words: Sequence[str] | None = None) -> int:
    """Run what is asked for."""
    asked = _asked(words)
    signal.signal(
        signal.SIGTERM, lambda *_: sys.exit(1)
    )  # what is ended from outside cleans up, too
    names = asked.classes or list(CLASSES)
    with (
        _library(any(CLASSES[each].disk for each in names)),
        tempfile.TemporaryDirectory(
            prefix="campaign-", dir=asked.where, ignore_cleanup_errors=True
        ) as name,
    ):
        rows = {each: _one(each, asked, Path(name)) for each in names}
    table = _table(rows, asked)
    print(table)
    for each, (outcome, _) in rows.items():
        _tell(each, outcome, asked)
    if asked.report:
        asked.report.write_text(table + "\n", encoding="utf-8")
    return 1 if any(outcome.complaints for outcome, _ in rows.values()) else 0


def _asked(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.campaigns",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("classes", nargs="*", metavar="CLASS", choices=[[], *CLASSES],
                        help=", ".join(CLASSES))  # fmt: skip
    parser.add_argument("--long", action="store_true", help="the long form")
    parser.add_argument("--cases", type=int, help="so many cases of each class at most")
    memory = Path("/dev/shm")  # a disk in memory flushes at once; nothing here needs a real one
    parser.add_argument("--in", dest="where", default=memory if os.access(memory,
    os.W_OK) else None,
                        type=Path,
                        help="where books lie meanwhile (default: in memory)")  # fmt: skip
    parser.add_argument("--seed", type=int, default=11, help="moves what is chosen")
    parser.add_argument(
        "--only", default="", help="only cases of `hostile` whose name has these words"
    )
    parser.add_argument("--tell", type=int, default=12, help="so many complaints of each kind")
    parser.add_argument("--report", type=Path, help="write the table to this file, too")
    return parser.parse_args(words)


@contextmanager
def _library(wanted: bool) -> Iterator[None]:
    """Begin anew with the library of `disk` preloaded, where it is wanted and can be had."""
    from tests.campaigns import children, disk

    if wanted and not disk.why_not() and disk.PAGE not in os.environ:
        made = Path(tempfile.mkdtemp(prefix="campaign-disk-"))
        children.again("tests.campaigns", *sys.argv[1:], environment=disk.preload(made))
    try:
        yield
    finally:
        if disk.PAGE in os.environ:
            shutil.rmtree(Path(os.environ[disk.PAGE]).parent, ignore_errors=True)


def _one(name: str, asked: argparse.Namespace, place: Path) -> tuple[Outcome, float]:
    room = place / name
    room.mkdir()
    for variable, folder in {"XDG_CACHE_HOME": "cache", "XDG_CONFIG_HOME": "config",
                             "XDG_STATE_HOME": "state"}.items():  # fmt: skip
        os.environ[variable] = str(place / folder)  # nothing of this account is read or written
    form = CLASSES[name]
    cases = asked.cases or (form.long if asked.long else form.short)
    began = time.monotonic()
    module = importlib.import_module(f"tests.campaigns.{name.replace('-', '_')}")
    try:
        outcome: Outcome = module.run(Wanted(room, asked.seed, asked.long, cases, asked.only))
    except Exception:  # a campaign that falls over has failed; the others are still run
        traceback.print_exc()
        outcome = Outcome()
        outcome.complain(Kind.TRACEBACK, name, "the campaign itself fell over, see above")
    return outcome, time.monotonic() - began


def _table(rows: dict[str, tuple[Outcome, float]], asked: argparse.Namespace) -> str:
    form = "long" if asked.long else "short"
    lines = [f"| class ({form}, seed {asked.seed}) | cases | {' | '.join(Kind)} | seconds |",
             f"| --- | {' | '.join('---:' for _ in range(len(Kind) + 2))} |"]  # fmt: skip
    for name, (outcome, seconds) in rows.items():
        if outcome.left_out:
            lines.append(f"| {name} | left out: {outcome.left_out} |{' |' * (len(Kind) + 1)}")
            continue
        numbers = " | ".join(str(outcome.number(kind)) for kind in Kind)
        lines.append(f"| {name} | {outcome.cases} | {numbers} | {seconds:.0f} |")
    return "\n".join(lines)


def _tell(name: str, outcome: Outcome, asked: argparse.Namespace) -> None:
    if outcome.counts:
        print(
            f"\n{name}: " + ", ".join(f"{n} {what}" for what, n in outcome.counts.most_common(12))
        )
    for kind in Kind:
        mine = [(case, what) for of, case, what in outcome.complaints if of == kind]
        for case, what in mine[: asked.tell]:
            print(f"    {kind.upper()} {case}: {what}")
        if len(mine) > asked.tell:
            print(f"    and {len(mine) - asked.tell} more of these")
    if outcome.complaints:
        print(f"    again: python -m tests.campaigns {name} --seed {asked.seed}")


if __name__ == "__main__":
    sys.exit(main())
