"""Makes books of any size with git fast-import: ten years of a shop in a minute.

    python tests/benchmarks/big_book.py DIR --records 500 --saves 10000

Records are canonical texts of the demo's, each with an id of its own; saves change
values, rename, copy, log runs, sign off, and now and then two boxes' lines are
merged: most merges join, some decide, some discard. Some records are busy, most are
not. The first half of the saves wrote records in format 1, as a shop's old texts are. Every sixth
commit is made by hand, without our trailers, its texts as hands write them (`by_hand`): what was
written so is often written so again, some texts hold what no field can, a few are no TOML. Same
numbers, same book: all choices come from one seed.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks import by_hand  # noqa: E402

START = datetime(2016, 1, 4, 5, 0, tzinfo=UTC)
YEARS = 10
PEOPLE = ("jun", "mirela", "ifeoma", "dunja", "petr", "ines", "tariq", "yuki")
_CHANGEABLE = re.compile(
    r"^(lift|reach|swing|wrist|shuttle|bite|settle|pressure|speed|length) = -?[0-9]"
)
_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
_WHY = ("taught anew after the jaws came off", "chips under the seat", "", "first piece was high",
        "blow-off too short", "longer blanks of this lot", "", "wear of the fingers")  # fmt: skip


class Text:
    """A record's text as lines, of which some are values that setters change."""

    def __init__(self, lines: list[str]) -> None:
        self.lines = lines
        self.places = [n for n, line in enumerate(lines) if _CHANGEABLE.match(line)]

    def bytes(self) -> bytes:
        """The whole text."""
        return "\n".join(self.lines).encode()

    def copy(self) -> Text:
        """A text that can be changed apart from this one."""
        return Text(list(self.lines))

    def change(self, dice: random.Random, place: int | None = None) -> str:
        """Move one value by a little; what changed, in words."""
        n = dice.choice(self.places) if place is None else place
        key, _, old = self.lines[n].partition(" = ")
        decimals = len(old.partition(".")[2])
        step = dice.choice((-2, -1, 1, 2, 3)) * 10.0 ** -max(decimals - 1, 0)
        new = f"{float(old) + step:.{decimals}f}"
        new = new if float(new) else new.lstrip("-")
        self.lines[n] = f"{key} = {new}"
        return f"{key}: {old} -> {new}"


def _nobodys_logins(people: bytes) -> bytes:
    """The people without logins: whoever measures may be any of them."""
    from schemas.document import check_tree, read_document

    tree = read_document(people, "people.toml").tree
    for person in tree["people"].values():
        person.pop("logins", None)
    return check_tree(tree, "people.toml").bytes


class Maker:
    """Writes one stream for fast-import."""

    def __init__(self, out: IO[bytes], records: int, saves: int, seed: int = 7) -> None:
        self.out = out
        self.dice = random.Random(seed)
        self.wanted = saves
        self.mark = 0
        self.at = START
        self.tick = timedelta(seconds=YEARS * 365 * 86_400 / saves)
        self.templates = [self._template(f) for f in sorted((ROOT / "demo_jobs/records").glob("*"))]
        self.texts: dict[str, Text] = {}
        self.names: dict[str, str] = {}
        self.runs: dict[str, int] = {}
        self.open_runs: dict[str, tuple[str, bytes]] = {}
        self.by_hand: set[str] = set()  # records whose text is as a hand left it
        self.first = records
        self.commits: dict[str, str] = {}

    @staticmethod
    def _template(file: Path) -> list[str]:
        from schemas.document import read_document

        return read_document(file.read_bytes(), f"records/{file.name}").bytes.decode().split("\n")

    def data(self, text: Text) -> bytes:
        """A record's text as it was written at that time."""
        data = text.bytes()
        if self.mark < self.wanted // 2:
            data = data.replace(b"format = 2\n", b"format = 1\n", 1)
            data = data.replace(b"\nkept_at = ", b"\nplace = ")
        return data

    def hand(self, key: str) -> bytes:
        """The same as a hand writes it."""
        self.by_hand.add(key)
        return by_hand.rewritten(self.data(self.texts[key]).decode(), self.dice).encode()

    def begin(self, text: list[str], name: str) -> str:
        """Put a new record into the book; its key."""
        key = "wm-" + "".join(self.dice.choices(_ALPHABET, k=6))
        lines = [f'id = "{key}"' if line.startswith('id = "wm-') else line for line in text]
        made = Text(lines)
        for _ in range(6):
            made.change(self.dice)
        self.texts[key], self.names[key] = made, name
        return key

    def commit(self, what: str, kind: str, files: dict[str, bytes | None], *, parent: int = 0,
               merge: int = 0, key: str = "") -> int:  # fmt: skip
        """One save on top of `parent` (the last one, unless named); its mark."""
        self.at += self.tick * self.dice.uniform(0.2, 1.8)
        who = PEOPLE[min(int(self.dice.expovariate(0.45)), len(PEOPLE) - 1)]
        why = self.dice.choice(_WHY)
        trailers = [f"Kind: {kind}", f"Record: {key or 'book'}", f"Person: {who}", f"Login: {who}"]
        trailers += [f"Reason: {why}"] if why else []
        message = f"{what}\n\n{what}\n\n" + "\n".join(trailers) + "\n"
        author = f"{who.title()} <{who}@witnessmark>"
        if kind == "hand":
            author, message = self.dice.choice(by_hand.AUTHORS), f"{what}\n"
        stamp = f"{author} {int(self.at.timestamp())} +0100"
        self.mark += 1
        head = f"commit refs/heads/main\nmark :{self.mark}\nauthor {stamp}\ncommitter {stamp}\n"
        self.out.write(head.encode() + _data(message.encode()))
        if self.mark > 1:
            self.out.write(f"from :{parent or self.mark - 1}\n".encode())
        if merge:
            self.out.write(f"merge :{merge}\n".encode())
        for path, data in files.items():
            if data is None:
                self.out.write(f"D {path}\n".encode())
            else:
                self.out.write(f"M 100644 inline {path}\n".encode() + _data(data))
        return self.mark

    def make(self) -> None:
        """The whole book."""
        files: dict[str, bytes | None] = {}
        for file in sorted((ROOT / "demo_jobs").rglob("*")):
            path = file.relative_to(ROOT / "demo_jobs").as_posix()
            if file.is_file() and not path.startswith("records/"):
                files[path] = file.read_bytes()
        files["people.toml"] = _nobodys_logins(files["people.toml"] or b"")
        for n in range(self.first):
            key = self.begin(self.templates[n % len(self.templates)], f"job-{n:04d}-op{n % 4 + 1}0")
            files[f"records/{self.names[key]}.toml"] = self.data(self.texts[key])
        self.commit("the book begins", "start", files)
        keys = list(self.texts)
        busy = [min(self.dice.paretovariate(1.1), 60.0) for _ in keys]
        while self.mark < self.wanted:
            key = self.dice.choices(keys, busy)[0]
            self._act(key, self.dice.random())

    def _path(self, key: str) -> str:
        return f"records/{self.names[key]}.toml"

    def _act(self, key: str, chance: float) -> None:
        text, name = self.texts[key], self.names[key]
        if chance < (0.45 if key in self.by_hand else 0.065):
            said = [text.change(self.dice) for _ in range(self.dice.choice((0, 1, 1, 3)))]
            what = said[0] if said else "tidied"
            self.commit(what, "hand", {self._path(key): self.hand(key)}, key=key)
        elif chance < 0.066:
            keys = self.dice.sample(sorted(self.texts), min(12, len(self.texts)))
            files = {self._path(k): self.hand(k) for k in keys}
            self.commit("formatted all of the cell", "hand", files)
        elif chance < 0.80:
            self.by_hand.discard(key)
            said = [text.change(self.dice) for _ in range(self.dice.choice((1, 1, 1, 2, 4)))]
            self.commit(f"{name}: {said[0]}", "ink", {self._path(key): self.data(text)}, key=key)
        elif chance < 0.93:
            self._run(key)
        elif chance < 0.95:
            old = self._path(key)
            self.names[key] = f"{name.rpartition('-r')[0] or name}-r{self.mark}"
            new = {old: None, self._path(key): self.data(text)}
            self.commit(f"{self.names[key]}: renamed from {name}", "rename", new, key=key)
        elif chance < 0.97:
            self._sign(key)
        else:
            self._merge(key)

    def _run(self, key: str) -> None:
        """Start a run, or stop the one that is open; its commits are made up: ids come later."""
        commit = f"{self.dice.getrandbits(160):040x}"
        when = f"{self.at.replace(microsecond=0):%Y-%m-%d %H:%M:%S}+00:00"
        step = '[steps.{}]\nwhat = "{}"\nat = {}\nwho = "jun"\ncommit = "{}"\n'
        if key not in self.open_runs:
            number = self.runs[key] = self.runs.get(key, 0) + 1
            made = f"{self.at:%Y%m%d-%H%M}-{self.mark:06x}"
            path = f"runs/{key}/{made}.toml"
            data = (
                f'format = 1\n\n[run]\nid = "{made}"\nrecord = "{key}"\nnumber = {number}\n'
                f'commit = "{commit}"\nquantity = 120\n\n'
            )
            data += step.format("001", "start", when, commit)
            self.open_runs[key] = (path, data.encode())
        else:
            path, before = self.open_runs.pop(key)
            head, _, steps = before.decode().partition("[steps")
            data = f'{head}[end]\ncommit = "{commit}"\ngood = 118\nscrap = 2\n\n[steps{steps}\n'
            data += step.format("002", "stop", when, commit) + "good = 118\nscrap = 2\n"
        self.commit(f"{self.names[key]}: run", "run", {path: data.encode()}, key=key)

    def _sign(self, key: str) -> None:
        made = f"{self.at:%Y%m%d-%H%M}-{self.mark:06x}"
        when = f"{self.at.replace(microsecond=0):%Y-%m-%d %H:%M:%S}+00:00"
        zero = "0" * 64
        data = (
            f'format = 1\n\n[sign_off]\nid = "{made}"\nrecord = "{key}"\nat = {when}\n'
            f'who = "ifeoma"\ncommit = "{self.dice.getrandbits(160):040x}"\n\n'
            f'[accepted]\nrecord = "{zero}"\npolicy = "{zero}"\n'
        )
        path = f"signoffs/{key}/{made}.toml"
        self.commit(f"{self.names[key]}: signed off", "sign-off", {path: data.encode()}, key=key)

    def _merge(self, key: str) -> None:
        """Two lines of one or two saves each, then a merge that joins, decides or discards."""
        fork, ours = self.mark, self.texts[key]
        theirs = ours.copy()
        place, other = self.dice.sample(ours.places, 2)
        decides = self.dice.random() < 0.3
        path = self._path(key)
        said = theirs.change(self.dice, place)
        side = self.commit(f"there: {said}", "ink", {path: self.data(theirs)}, key=key)
        said = ours.change(self.dice, place if decides else other)
        here = self.commit(f"here: {said}", "ink", {path: self.data(ours)}, parent=fork, key=key)
        if self.dice.random() < 0.8:
            ours.lines[place] = theirs.lines[place]  # else what was done there is discarded
        merged: dict[str, bytes | None] = {path: self.data(ours)}
        self.commit("two boxes meet", "sync", merged, parent=here, merge=side, key=key)


def _data(data: bytes) -> bytes:
    return b"data %d\n" % len(data) + data + b"\n"


def make_book(folder: Path, records: int, saves: int, seed: int = 7) -> Path:
    """A book with so many records and saves in a folder, packed, its files written out."""
    folder.mkdir(parents=True)
    git = ["git", "-c", "gc.auto=0", "-c", "core.autocrlf=false"]
    subprocess.run([*git, "init", "-q", "--template=", "-b", "main", "."], cwd=folder, check=True)
    with subprocess.Popen(
        [*git, "fast-import", "--quiet", "--force"], cwd=folder, stdin=subprocess.PIPE
    ) as process:
        assert process.stdin is not None
        Maker(process.stdin, records, saves, seed).make()
        process.stdin.close()
    assert process.returncode == 0
    subprocess.run([*git, "repack", "-q", "-a", "-d", "-F"], cwd=folder, check=True)
    subprocess.run([*git, "reset", "-q", "--hard", "main"], cwd=folder, check=True)
    return folder


def sizes(small: bool) -> Iterator[tuple[int, int]]:
    """Records and saves of the books that are measured."""
    yield from ((20, 200), (50, 1_000)) if small else ((50, 1_000), (500, 10_000), (2_000, 100_000))


def books_to_measure(about: str) -> Iterator[tuple[Path, Path, bool]]:
    """What a benchmark is asked for: each book, a room beside it, and whether it is a smoke run.

    Books are made, or a copy of one that is there; caches are of this run alone.
    """
    parser = argparse.ArgumentParser(description=about.split("\n", maxsplit=1)[0])
    parser.add_argument("--small", action="store_true", help="a smoke run of seconds")
    parser.add_argument("--book", type=Path, help="a book that is there already; it is copied")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        os.environ["XDG_CACHE_HOME"] = str(Path(made) / "cache")
        if wanted.book:
            copy = shutil.copytree(wanted.book, Path(made) / "book", symlinks=True)
            yield Path(copy), Path(made), wanted.small
            return
        for records, saves in sizes(wanted.small):
            room = Path(made) / str(records)
            yield make_book(room / "book", records, saves), room, wanted.small


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--records", type=int, default=50)
    parser.add_argument("--saves", type=int, default=1_000)
    wanted = parser.parse_args()
    make_book(wanted.folder, wanted.records, wanted.saves)
