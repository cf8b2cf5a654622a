"""Kill a save at every point, and look whether the book is whole afterwards.

    python -m tests.campaigns.kill_points                 every point of every act, and more
    python -m tests.campaigns.kill_points --rounds 300    so many random kills besides

A child process acts on a copy of the little book and dies: at the n-th call of
something that touches the disk or starts git (`points`), at any moment
(`random`), or because the disk takes no more (`full`, `errors`). Before it dies
it writes down what was accepted and what was confirmed. `twice` inks one value
twice, `held` does so while somebody's git holds the index, and after `by hand` a
colleague commits with plain git before anybody opens the book. Afterwards the
book is opened again, and `look` holds it against what must be true:

    what was confirmed is in the history, in order
    a record and its program are those of one save
    an accepted value is in pencil or in the history, never both, never neither
    files and index are those of the head; git finds nothing wrong
    the next save works, and a plain `git commit` after it takes nothing back
"""

# ruff: noqa: T201 (this one is run by hand and tells what it found)
from __future__ import annotations

import argparse
import collections
import os
import random
import resource
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from engine.book import Book, mending
from engine.repo.git import Git
from schemas.errors import WitnessmarkError
from tests.mini_book import BUSH, SEAT, Stepping, files, found, plain_git

ADDRESS = "positions.seat.reach"
PROGRAM = "programs/seat.nc"
INDEX_LOCK = ".git/index.lock"
ROOT = Path(__file__).parents[2]
_NAMES = 7  # the seed of names that are drawn
_write = os.write  # the child's own notes are no kill point


@dataclass
class Notes:
    """What a child wrote down: accepted pencil, confirmed saves."""

    pencilled: list[str] = field(default_factory=list)
    confirmed: list[tuple[str, str]] = field(default_factory=list)  # value, commit
    failed: list[str] = field(default_factory=list)

    @classmethod
    def read(cls, path: Path) -> Notes:
        notes = cls()
        for line in path.read_text().splitlines() if path.exists() else ():
            word, *rest = line.split(" ", 2)
            if word == "pencilled":
                notes.pencilled.append(rest[0])
            elif word == "confirmed":
                notes.confirmed.append((rest[0], rest[1]))
            else:
                notes.failed.append(line)
        return notes


def note(path: Path, *words: str) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    _write(handle, (" ".join(words) + "\n").encode())
    os.close(handle)


# what a child does


def value_of(n: int) -> str:
    return f"{600 + n}.250"


def save(folder: Path, notes: Path, first: int, count: int) -> None:
    """Edit the program and a taught position, and ink both, `count` times."""
    book = Book.open(folder, login="mira", clock=Stepping())
    for n in range(first, first + count):
        (folder / PROGRAM).write_bytes(f"O1\n(save {value_of(n)})\nM30\n".encode())
        book.document(SEAT).pencil.set(ADDRESS, value_of(n))
        note(notes, "pencilled", value_of(n))
        done = book.document(SEAT).ink(f"save {n}")
        note(notes, "confirmed", value_of(n), done.commit)


def bystander(folder: Path, notes: Path, first: int, count: int) -> None:
    """Somebody else inks another record meanwhile."""
    book = Book.open(folder, login="ole", clock=Stepping())
    for n in range(first, first + count):
        book.document(BUSH).pencil.set("lot.quantity", str(n))
        note(notes, "pencilled", str(n))
        note(notes, "confirmed", str(n), book.document(BUSH).ink().commit)


def rename(folder: Path, notes: Path, first: int, count: int) -> None:
    """Give the record another name, back and forth."""
    book = Book.open(folder, login="mira", clock=Stepping())
    for n in range(first, first + count):
        name = next(d for d in book.documents() if d.startswith("seat"))
        done = book.document(name).rename(f"seat-no{n}", "another name")
        note(notes, "confirmed", "", done.commit)


def restore(folder: Path, notes: Path, first: int, count: int) -> None:
    """Go back to the first ink of the record, program included."""
    book = Book.open(folder, login="mira", clock=Stepping())
    for n in range(first, first + count):
        done = book.document(SEAT).restore("ink-2" if n % 2 else "ink-1", "", "back")
        note(notes, "confirmed", "", done.commit)


def start(folder: Path, notes: Path, first: int, count: int) -> None:
    """Start a book on files that lie there."""
    del first, count
    book = Book.start(folder, login="ole", clock=Stepping())
    note(notes, "confirmed", "", book.head)


def twice(folder: Path, notes: Path, first: int, count: int) -> None:
    """Two inks of one value, one after the other."""
    save(folder, notes, first, 2 * count)


def held(folder: Path, notes: Path, first: int, count: int) -> None:
    """The same while somebody's git holds the index all the time."""
    (folder / INDEX_LOCK).write_bytes(b"somebody's")
    mending.A_MOMENT = 0.02
    twice(folder, notes, first, count)


ACTS = {
    "save": save,
    "twice": twice,
    "by hand": twice,
    "held": held,
    "rename": rename,
    "restore": restore,
    "start": start,
}
SAVES = ("save", "twice", "by hand", "held")


def prepared(act: str, folder: Path) -> Path:
    """A book (or its files) in the state from which an act begins."""
    if act == "start":
        for path, data in files().items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)
        return folder
    found(folder)
    if act in (*SAVES, "restore"):
        save(folder, folder.with_suffix(".prepared"), 1, 1)
    return folder


# how it dies


def wrapped(count: Callable[[str], None], name: str, call: Callable[..., object]) -> object:
    def around(*args: object, **named: object) -> object:
        count(f"before {name}")
        result = call(*args, **named)
        count(f"after {name}")
        return result

    return around


def die_at(n: int, seen: list[str], told: Path | None = None) -> None:
    """End this process, hard, at the n-th point; `seen` collects the points' names.

    `told`: where to write the name of that point. Drawn names are the same in every child:
    else the ids of objects differ, and with them the folders that are made for them.
    """
    dice = random.Random(_NAMES)
    secrets.token_hex = lambda size=16: dice.randbytes(size).hex()  # type: ignore[assignment]

    def count(name: str) -> None:
        seen.append(name)
        if len(seen) == n:
            if told is not None:
                told.write_text(name)
            os._exit(9)

    for name in ("fsync", "fdatasync", "write", "replace", "unlink", "link", "rename", "mkdir"):
        setattr(os, name, wrapped(count, name, getattr(os, name)))
    run = Git.run

    def git(self: Git, *words: str, **named: object) -> object:
        return wrapped(count, f"git {words[0]}", run)(self, *words, **named)  # type: ignore[operator]

    Git.run = git  # type: ignore[assignment,method-assign]


def forked(work: Callable[[], None], *, group: bool = False) -> int:
    """The id of a child that does `work` and ends; in a process group of its own if wanted."""
    child = os.fork()
    if child:
        return child
    try:
        if group:
            os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        os.dup2(null, 2)
        work()
        os._exit(0)
    except BaseException:
        os._exit(1)
    raise AssertionError


# what must be true afterwards


def look(folder: Path, act: str, notes: Notes) -> None:
    """AssertionError, saying what is wrong, where the book is not whole."""
    if act == "by hand":
        commit_by_hand(folder)
    if act == "held" and (folder / INDEX_LOCK).exists():
        assert (folder / INDEX_LOCK).read_bytes(), "somebody's lock was taken"
        (folder / INDEX_LOCK).unlink()
    age_locks(folder)
    if act == "start":
        look_at_start(folder, notes)
        return
    book = Book.open(folder, login="mira", clock=Stepping())
    name = next(d for d in book.documents() if d.startswith("seat"))
    past = plain_git(folder, "rev-list", "--reverse", "HEAD").split()
    places = [past.index(commit) for _, commit in notes.confirmed]  # ValueError: a save was lost
    assert places == sorted(places), "confirmed saves are out of order"

    record = plain_git(folder, "show", f"HEAD:records/{name}.toml")
    inked = str(book.document(name).values()[ADDRESS])
    assert f"reach = {inked}" in record
    program = plain_git(folder, "show", f"HEAD:{PROGRAM}")
    if act in (*SAVES, "restore"):
        before = inked == "612.350" and "(save" not in program
        assert before or f"(save {inked})" in program, "record and program are of two saves"
    draft = book.document(name).pencil.draft()
    if notes.pencilled:
        wanted = notes.pencilled[-1]
        in_pencil = draft is not None and [str(m.value) for m in draft.marks] == [wanted]
        assert in_pencil != (inked == wanted), f"{wanted}: pencil {draft}, ink {inked}"
    elif draft is not None:
        assert [str(m.value) for m in draft.marks] != [inked], "both in pencil and in ink"
    drafts = plain_git(folder, "log", "--format=%(trailers:key=Draft,valueonly)").split()
    assert len(drafts) == len(set(drafts)), "one draft was inked twice"

    names = plain_git(folder, "ls-tree", "-r", "--name-only", "HEAD").split()
    assert len([n for n in names if n.startswith("records/seat")]) == 1, names
    inked_program = (folder / PROGRAM).read_text() == program
    status = plain_git(folder, "status", "--porcelain").splitlines()
    assert status == ([] if inked_program or act not in SAVES else [f" M {PROGRAM}"]), status
    assert book.document(name).on_disk.found() is None
    assert not (folder / ".git/witnessmark/intent.json").exists()

    if draft is None:
        book.document(name).pencil.set("lot.quantity", str(1000 + random.randrange(1000)))
    done = book.document(name).ink("the next save")
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    assert plain_git(folder, "status", "--porcelain") == "" or act not in SAVES
    assert book.document(name).pencil.draft() is None
    assert not list((folder / ".git/witnessmark").glob("tree-*"))
    assert "error" not in plain_git(folder, "fsck", "--strict", fails=True)
    commit_by_hand(folder)
    assert plain_git(folder, "diff", done.commit, "HEAD") == "", "a commit by hand took it back"
    assert not (folder / INDEX_LOCK).exists()
    book.close()


def commit_by_hand(folder: Path) -> None:
    """What stands in git's index, committed by somebody who knows only git; git may refuse."""
    plain_git(folder, "commit", "--allow-empty", "-qm", "by hand", fails=True)


def look_at_start(folder: Path, notes: Notes) -> None:
    """Either the book is there, or starting it again works."""
    try:
        book = Book.open(folder, login="ole", clock=Stepping())
    except WitnessmarkError:
        assert not notes.confirmed, "a started book cannot be opened"
        book = Book.start(folder, login="ole", clock=Stepping())
    assert plain_git(folder, "status", "--porcelain") == ""
    assert book.documents() == [
        "book",
        "bush-op20",
        "cells/lathe",
        "cells/mill",
        "people",
        "seat-op10",
    ]
    book.close()


def age_locks(folder: Path) -> None:
    """Make git's left-over locks as old as they would be after a few seconds' wait."""
    for lock in (folder / ".git").rglob("*.lock"):
        with suppress(FileNotFoundError):  # a git that outlived its caller took it away itself
            os.utime(lock, (time.time() - 60, time.time() - 60))


# campaigns


@dataclass
class Result:
    """How often it died, where, and what was wrong."""

    deaths: int = 0
    quiet: int = 0  # the child ended by itself
    at: collections.Counter[str] = field(default_factory=collections.Counter)
    wrong: list[str] = field(default_factory=list)

    def check(self, what: str, folder: Path, act: str, notes: Path) -> None:
        try:
            look(folder, act, Notes.read(notes))
        except Exception as error:  # whatever went wrong is the finding
            place = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{Path(place.filename).name}:{place.lineno}"
            self.wrong.append(f"{what}: {type(error).__name__}: {error} ({where})")

    def check_others(self, what: str, folder: Path, notes: Path) -> None:
        """What somebody else got confirmed is in the history as well, in order."""
        past = plain_git(folder, "rev-list", "--reverse", "HEAD").split()
        done = [commit for _, commit in Notes.read(notes).confirmed]
        self.at["confirmed by others"] += len(done)
        if not set(done) <= set(past) or [past.index(c) for c in done] != sorted(
            map(past.index, done)
        ):
            self.wrong.append(f"{what}: a bystander lost a confirmed save")


def copies(act: str, place: Path) -> Iterator[tuple[Path, Path]]:
    """Fresh copies of the prepared book, with a place for notes; the one before is removed."""
    first = prepared(act, place / f"{act}-first")
    n = 0
    while True:
        folder = place / f"{act}-{n}"
        shutil.copytree(first, folder)
        yield folder, place / f"{act}-{n}.notes"
        shutil.rmtree(folder)
        n += 1


def every_point(act: str, place: Path, every: int = 1, offset: int = 0) -> Result:
    """Die at each point of one act, before and after each call."""
    result = Result()
    books = copies(act, place)
    folder, notes = next(books)
    listing, told = place / f"{act}.points", place / f"{act}.point"

    def whole() -> None:
        seen: list[str] = []
        die_at(0, seen)
        ACTS[act](folder, notes, 2, 1)
        listing.write_text("\n".join(seen))

    assert os.waitpid(forked(whole), 0)[1] == 0, f"{act} does not work at all"
    points = listing.read_text().split("\n")
    for n in range(1 + offset, len(points) + 1, every):
        folder, notes = next(books)

        def part(n: int = n, folder: Path = folder, notes: Path = notes) -> None:
            die_at(n, [], told)
            ACTS[act](folder, notes, 2, 1)

        told.unlink(missing_ok=True)
        status = os.waitpid(forked(part), 0)[1]
        assert os.waitstatus_to_exitcode(status) == 9, f"the kill at {points[n - 1]} never came"
        assert told.read_text() == points[n - 1], f"point {n} is another one in each child"
        result.deaths += 1
        result.at[points[n - 1]] += 1
        result.check(f"{act}, point {n} ({points[n - 1]})", folder, act, notes)
    return result


def at_random(rounds: int, place: Path, seed: int, others: int = 0) -> Result:
    """Kill one process or its group at any moment of a row of saves, with others saving or not.

    The others are killed a little later: they must get on with what the first one left.
    """
    chance = random.Random(seed)
    result = Result()
    books = copies("save", place)
    for n in range(rounds):
        folder, notes = next(books)
        group = chance.random() < 0.5
        children = [forked(lambda f=folder, o=notes: save(f, o, 2, 50), group=group)]  # type: ignore[misc]
        theirs = [notes.with_suffix(f".{k}") for k in range(others)]
        for k, other in enumerate(theirs):
            first = 1000 * (k + 1)
            work = lambda f=folder, o=other, n=first: bystander(f, o, n, 50)  # noqa: E731
            children.append(forked(work, group=group))  # type: ignore[arg-type]
        time.sleep(chance.uniform(0.03, 0.6 + others / 2))
        for child in children:
            with suppress(ProcessLookupError):
                (os.killpg if group else os.kill)(child, signal.SIGKILL)
            os.waitpid(child, 0)
            time.sleep(chance.uniform(0, 0.1) * bool(others))
        time.sleep(0 if group else 0.02)
        result.deaths += 1
        result.at["group" if group else "process"] += 1
        name = f"random {n} of {others + 1} (seed {seed})"
        for other in theirs:
            result.check_others(name, folder, other)
        result.check(name, folder, "save", notes)
    return result


def full_disk(place: Path, limits: range) -> Result:
    """No file may grow beyond a limit, for the program and for git: as on a full disk."""
    result = Result()
    books = copies("save", place)
    for limit in limits:
        folder, notes = next(books)

        def work(folder: Path = folder, notes: Path = notes, limit: int = limit) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
            (folder / PROGRAM).unlink()
            try:
                save(folder, notes, 2, 1)
            except (WitnessmarkError, OSError) as error:
                resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
                note(notes, "failed", " ".join(str(error).split()))

        shutil.copy2(folder / PROGRAM, folder / "was.nc")
        os.waitpid(forked(work), 0)
        if not Notes.read(notes).pencilled:  # the program itself could not be written
            shutil.copy2(folder / "was.nc", folder / PROGRAM)
        (folder / "was.nc").unlink()
        kept = Notes.read(notes)
        result.deaths += bool(kept.failed)
        result.quiet += not kept.failed
        result.at[kept.failed[0][:48] if kept.failed else "worked"] += 1
        result.check(f"full at {limit}", folder, "save", notes)
    return result


def system_calls(place: Path, call: str, fault: str, most: int) -> Result:
    """strace makes the n-th call of one kind fail or kill, in every process of a save."""
    result = Result()
    books = copies("save", place)
    for n in range(1, most + 1):
        folder, notes = next(books)
        log = place / "strace.log"
        log.unlink(missing_ok=True)
        command = [
            "strace",
            "-f",
            "-qq",
            "-o",
            str(log),
            "-e",
            f"trace={call}",
            "-e",
            f"inject={call}:{fault}:when={n}",
            sys.executable,
            "-m",
            "tests.campaigns.kill_points",
            "--child",
            str(folder),
            str(notes),
        ]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
        fired = log.exists() and (
            "INJECTED" in log.read_text() or "killed by SIGKILL" in log.read_text()
        )
        if not fired:
            result.quiet += 1
            if n > 3:
                break
            continue
        result.deaths += 1
        result.at[f"{call} {fault}: exit {done.returncode}"] += 1
        result.check(f"{call} {fault} {n}", folder, "save", notes)
    return result


def child(folder: Path, notes: Path) -> None:
    """One save in a process of its own, for strace."""
    try:
        save(folder, notes, 2, 1)
    except (WitnessmarkError, OSError) as error:
        note(notes, "failed", " ".join(str(error).split()))
        sys.exit(3)


def small_disk(place: Path, rounds: int) -> Result | None:
    """A real file system that is full to within a few pages; None where none can be mounted."""
    result = Result()
    mount = place / "mount"
    mount.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1400k", "none", str(mount)],
        capture_output=True,
        check=False,
    ).returncode:
        return None
    try:
        books = copies("save", mount)
        for n in range(rounds):
            folder, _ = next(books)
            notes = place / f"small-{n}.notes"
            room = os.statvfs(mount)
            filler = mount / "filler"
            filler.write_bytes(b"x" * max(0, (room.f_bavail - n) * room.f_frsize))

            def work(folder: Path = folder, notes: Path = notes) -> None:
                try:
                    book = Book.open(folder, login="mira", clock=Stepping())
                    book.document(SEAT).pencil.set(ADDRESS, value_of(2))
                    note(notes, "pencilled", value_of(2))
                    done = book.document(SEAT).ink("save")
                    note(notes, "confirmed", value_of(2), done.commit)
                except (WitnessmarkError, OSError) as error:
                    note(notes, "failed", " ".join(str(error).split()))

            os.waitpid(forked(work), 0)
            filler.unlink()
            kept = Notes.read(notes)
            result.deaths += bool(kept.failed)
            result.quiet += not kept.failed
            result.at[kept.failed[0][:48] if kept.failed else "worked"] += 1
            result.check(f"small disk, {n} pages", folder, "record only", notes)
    finally:
        subprocess.run(["umount", str(mount)], check=False)
    return result


def campaigns(asked: argparse.Namespace) -> dict[str, Callable[[Path], Result | None]]:
    """What can be run, by name."""
    every, offset = asked.every, asked.seed % asked.every
    found: dict[str, Callable[[Path], Result | None]] = {
        act: lambda place, act=act: every_point(act, place, every, offset)  # type: ignore[misc]
        for act in ACTS
    }
    found["random"] = lambda place: at_random(asked.rounds, place, asked.seed)
    found["among others"] = lambda place: at_random(asked.rounds // 3, place, asked.seed, others=2)
    found["full"] = lambda place: full_disk(place, range(0, 2400, 30 * every))
    found["small disk"] = lambda place: small_disk(place, 60)
    if shutil.which("strace"):
        for call in ("fsync", "rename", "write", "unlink", "link"):
            for fault in ("signal=KILL", "error=ENOSPC", "error=EIO"):
                found[f"strace: {call} {fault}"] = lambda place, call=call, fault=fault: (
                    system_calls(  # type: ignore[misc]
                        place, call, fault, asked.strace
                    )
                )
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--rounds", type=int, default=100, help="random kills")
    parser.add_argument("--seed", type=int, default=11, help="moves the points")
    parser.add_argument("--strace", type=int, default=40, help="most faults of each kind of call")
    parser.add_argument("--every", type=int, default=1, help="only each n-th point")
    parser.add_argument("--only", default="", help="save, twice, held, rename, random, full, …")
    parser.add_argument("--child", nargs=2, type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        child(*asked.child)
        return 0
    results: dict[str, Result | None] = {}
    with tempfile.TemporaryDirectory() as name:
        for what, work in campaigns(asked).items():
            if asked.only in ("", what.split(":")[0]):
                place = Path(name) / what.replace(" ", "-")
                place.mkdir()
                results[what] = work(place)
    for what, result in results.items():
        told = (
            "not possible here"
            if result is None
            else (f"{result.deaths} died or refused, {result.quiet} not, {len(result.wrong)} wrong")
        )
        print(f"{what}: {told}")
        for word, count in result.at.most_common(12) if result else ():
            print(f"    {count:4} {word}")
        for wrong in result.wrong if result else ():
            print(f"    WRONG {wrong}")
    return 1 if any(result and result.wrong for result in results.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
