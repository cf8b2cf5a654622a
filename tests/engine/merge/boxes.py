"""Three boxes and a bare repository, driven at random, with a book-keeping of their own.

Every ink is noted by commit: who inked which values. What history says afterwards
is held against these notes, with plain git as the judge of what came before what.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from engine.book import Book
from schemas.address import Value, same_value, show
from schemas.document import kind_of, read_document
from schemas.errors import Conflict, Refused, UsageError
from schemas.record import is_coupled
from tests.mini_book import Stepping, files, plain_git, session_of

PEOPLE = ("mira", "ole", "tove")
RECORDS = ("seat-op10", "bush-op20")
VALUES = (
    "lot.quantity", "notes.text", "tools.T04.stick_out", "tools.T09.what", "approach.seat.speed",
    "positions.seat.lift", "positions.fetch.reach", "jaws.bite", "blank.height", "jaws.kept_at",
)  # fmt: skip
TEXT = ("notes.text", "tools.T09.what", "jaws.kept_at")
Step = tuple[int, int, int, int]  # box, what, where, value


@dataclass
class Noted:
    """One inked value. `value` is None where it was taken out."""

    commit: str
    person: str
    key: str
    address: str
    value: Value | None


def founded(folder: Path) -> Path:
    """A book with three people who may ink, and a bare repository that has it."""
    from schemas.document import check_tree

    made = files()
    people = read_document(made["people.toml"], "people.toml").tree
    people["people"]["tove"] = {
        "name": "Tove Lind",
        "roles": ["setter", "lead"],
        "logins": ["tove"],
    }
    people["people"]["mira"]["roles"] = ["setter", "lead"]
    made["people.toml"] = check_tree(people, "people.toml").bytes
    first = folder / "first"
    for path, data in made.items():
        (first / path).parent.mkdir(parents=True, exist_ok=True)
        (first / path).write_bytes(data)
    Book.start(first, login="ole", clock=Stepping()).close()
    plain_git(folder, "clone", "-q", "--bare", str(first), "hub.git")
    for person in PEOPLE:
        plain_git(folder, "clone", "-q", str(folder / "hub.git"), person)
    return folder


@dataclass
class Boxes:
    """Three boxes, each with one person in front of it."""

    folder: Path
    clock: Stepping = field(default_factory=Stepping)
    noted: list[Noted] = field(default_factory=list)
    books: list[Book] = field(default_factory=list)
    counter: int = 100
    syncs: int = 0
    merges: int = 0
    disputes: int = 0
    said: list[str] = field(default_factory=list)

    @classmethod
    def fresh(cls, template: Path, folder: Path) -> Boxes:
        """Copies of the founded three, with the copies' own meeting point."""
        shutil.copytree(template, folder)
        made = cls(folder)
        for person in PEOPLE:
            hub = str(folder / "hub.git")
            plain_git(folder / person, "config", "remote.origin.url", hub)
            made.books.append(Book.open(folder / person, login=person, clock=made.clock))
        return made

    def close(self) -> None:
        for book in self.books:
            book.close()

    # what happens

    def play(self, steps: Sequence[Step]) -> None:
        """Let things happen; what is refused for a good reason is no failure."""
        acts = (self.edit, self.edit, self.edit, self.sync, self.sync, self.rename, self.begin,
                self.copy, self.retire, self.run, self.program, self.take_out, self.decide,
                self.cell)  # fmt: skip
        for box, what, where, value in steps:
            book = self.books[box % 3]
            try:
                acts[what % len(acts)](book, where, value)
            except (Refused, UsageError, Conflict):
                continue

    def record(self, book: Book, n: int) -> str:
        names = sorted(item.record for item in book.list_records(findings=False, retired=True))
        return names[n % len(names)]

    def note(self, book: Book, before: str, commit: str) -> None:
        """Note what a commit changed, read with plain git, by id and not by name."""
        old, new = self.state(book, before), self.state(book, commit)
        for key in {**old, **new}:
            one, other = old.get(key, {}), new.get(key, {})
            for address in {**one, **other}:
                if not same_value(one.get(address), other.get(address)):
                    value = other.get(address)
                    self.noted.append(Noted(commit, book.identity.key, key, address, value))

    def state(self, book: Book, commit: str) -> dict[str, dict[str, Value]]:
        """Every document with values at a commit, by id, through plain git."""
        found = {}
        for line in plain_git(book.folder, "ls-tree", "-r", commit).splitlines():
            head, _, path = line.partition("\t")
            if kind_of(path) in ("record", "cell", "people", "book"):
                text = plain_git(book.folder, "cat-file", "blob", head.split()[2])
                values = read_document(text.encode(), path).values
                found[str(values.get("record.id", path.removesuffix(".toml")))] = values
        return found

    def inked(self, book: Book, act) -> None:
        before = book.head
        act()
        assert plain_git(book.folder, "rev-parse", f"{book.head}^").strip() == before
        self.note(book, before, book.head)

    def edit(self, book: Book, where: int, value: int) -> None:
        name, address = self.record(book, where), VALUES[value % len(VALUES)]
        self.counter += 1
        text = f"said {self.counter}" if address in TEXT else str(self.counter)
        book.document(name).pencil.set(address, text)
        self.inked(book, lambda: book.document(name).ink("as measured"))

    def take_out(self, book: Book, where: int, value: int) -> None:
        name = self.record(book, where)
        book.document(name).pencil.clear(
            ("tools.T04", "photos.jaws", "tools.T09", "jaws.bite")[value % 4]
        )
        self.inked(book, lambda: book.document(name).ink("not any more"))

    def cell(self, book: Book, where: int, value: int) -> None:
        self.counter += 1
        address = ("axes.lift.speed", "axes.reach.speed", "notes.text")[value % 3]
        book.document("cells/lathe").pencil.set(address, str(self.counter))
        self.inked(book, lambda: book.document("cells/lathe").ink("service"))

    def rename(self, book: Book, where: int, value: int) -> None:
        name = self.record(book, where)
        self.inked(book, lambda: book.document(name).rename(f"name-{value % 4}"))

    def begin(self, book: Book, where: int, value: int) -> None:
        self.inked(book, lambda: book.new(f"new-{value % 3}", part="New", cell="mill", units="mm"))

    def copy(self, book: Book, where: int, value: int) -> None:
        self.inked(book, lambda: book.document(self.record(book, where)).copy(f"new-{value % 3}"))

    def retire(self, book: Book, where: int, value: int) -> None:
        self.inked(
            book, lambda: book.document(self.record(book, where)).retire(back=bool(value % 2))
        )

    def run(self, book: Book, where: int, value: int) -> None:
        name = self.record(book, where)
        if any(run.stopped is None for run in book.document(name).runs.all()):
            if value % 2:
                book.document(name).runs.stop(value, 1)
            else:
                book.document(name).runs.confirm()
        else:
            book.document(name).runs.start()

    def program(self, book: Book, where: int, value: int) -> None:
        name = self.record(book, where)
        path = str(book.document(name).values().get("program.file", ""))
        if path and (book.folder / path).exists():
            self.counter += 1
            before = (book.folder / path).read_bytes()
            (book.folder / path).write_text(f"O1\nG0 X{self.counter}\nM30\n")
            try:
                self.inked(book, lambda: book.document(name).ink("better"))
            finally:  # refused, or another text was linked in pencil: the machine's own copy again
                if plain_git(book.folder, "status", "--porcelain", "--", path):
                    (book.folder / path).write_bytes(before)

    def decide(self, book: Book, where: int, value: int) -> None:
        for draft in book.drafts():
            if draft.who.key == book.identity.key:
                if value % 2:
                    if any(mark.contested for mark in draft.marks):
                        book.document(draft.document).pencil.keep()
                    self.inked(book, lambda d=draft: book.document(d.document).ink("decided"))
                else:
                    book.document(draft.document).pencil.rub_out()
                return

    def sync(self, book: Book, where: int = 0, value: int = 0) -> None:
        done = book.sync()
        assert not done.problem, done.problem
        assert not done.waiting
        self.syncs += 1
        self.merges += bool(done.merged)
        self.disputes += len(done.contested)
        self.said += done.messages

    def counts(self) -> dict[str, int]:
        """What happened, for a campaign's report."""
        return {
            "inks": len({item.commit for item in self.noted}),
            "values": len(self.noted),
            "syncs": self.syncs,
            "merges": self.merges,
            "contested": self.disputes,
            "said": len(self.said),
        }

    # what must hold in the end

    def settle(self) -> None:
        """Everybody syncs until all have everything."""
        for _ in range(2):
            for book in self.books:
                self.sync(book)

    def check(self) -> None:
        self.settle()
        heads = {book.head for book in self.books}
        assert len(heads) == 1, "all end with equal books"
        for book in self.books:
            assert plain_git(book.folder, "status", "--porcelain") == ""
            assert not book.waiting().commits
        self.check_attribution()
        self.check_traces()
        self.check_nothing_lost()

    def check_attribution(self) -> None:
        """History has exactly what was inked, by whom it was inked."""
        book = self.books[0]
        past = session_of(book).past
        keys = {item.key for item in self.noted}
        said = {
            (row.saved.id, row.saved.who.key, key, row.address, show(row.new))
            for key in keys
            for row in past.rows(key, lambda _: True)
            if row.decided is None
        }
        wanted = {(n.commit, n.person, n.key, n.address, show(n.value)) for n in self.noted}
        assert wanted <= said, "every inked value is in history"
        first = plain_git(book.folder, "rev-list", "--max-parents=0", book.head).strip()
        extra = {row for row in said - wanted if row[0] != first}
        assert not extra, f"attributed to somebody who did not ink it: {extra}"

    def check_traces(self) -> None:
        """A trace ends with what stands; a run is claimed by values of its own revisions only."""
        book = self.books[0]
        final = self.state(book, book.head)
        names = {session_of(book).find(n).key: n for n in book.documents()}
        for key, name in names.items():
            document = book.document(name)
            runs: dict[int, list[dict[str, Value]]] = {}
            for run in document.runs.all() if key.startswith("wm-") else ():
                revisions = self.line(run.commit, run.end_commit or book.head)
                states = [self.state(book, commit).get(key, {}) for commit in revisions]
                runs.setdefault(run.number, []).extend(states)
            known = [final[key], *(state for states in runs.values() for state in states)]
            tops = {address.partition(".")[0] for state in known for address in state}
            items = [item for top in tops for item in document.past.trace(top)]
            last = {item.change.address: item.change.new for item in items}
            stood = {a: show(value) for a, value in last.items() if value is not None}
            assert stood == {a: show(v) for a, v in final[key].items()}, f"{name}: last rows stand"
            for item in items:
                for number in item.runs:
                    assert any(
                        same_value(state.get(item.change.address), item.change.new)
                        for state in runs[number]
                    ), f"{name}: run {number} never had {item}"
            for number, states in runs.items():
                for address, value in states[0].items():
                    claimed = [i.change.new for i in items
                               if i.change.address == address and number in i.runs]  # fmt: skip
                    assert any(same_value(value, other) for other in claimed), (name, address)

    def line(self, start: str, end: str) -> list[str]:
        """A run's revisions: its start, and the way of first parents from its end back to it."""
        folder = self.books[0].folder
        way = plain_git(folder, "rev-list", "--first-parent", end).split()
        return [start, *(commit for commit in way if self.knew(commit, start))]

    def check_nothing_lost(self) -> None:
        """A value that no later ink knew of stands, or lies in its author's pencil."""
        book = self.books[0]
        final = self.state(book, book.head)
        pencil: dict[tuple[str, str, str], set[str]] = {}
        for box in self.books:
            for draft in box.drafts():
                key = session_of(box).find(draft.document).key
                for mark in draft.marks:
                    where = pencil.setdefault((draft.who.key, key, mark.address), set())
                    where.add(str(mark.value))
        for item in self.noted:
            if same_value(final.get(item.key, {}).get(item.address), item.value):
                continue
            where = (item.person, item.key, item.address)
            assert (
                where in pencil
                or self.overruled(item)
                or self.came_to_nothing(item, final)
                or self.entry_lived_on(item, final)
                or self.rubbed(item)
            ), f"{item} neither stands nor waits in pencil"

    def overruled(self, item: Noted) -> bool:
        """Whether somebody who knew this value inked it, or what belongs with it, again."""
        return any(
            n.key == item.key
            and n.commit != item.commit
            and (n.address == item.address or (is_coupled(n.address) and is_coupled(item.address)))
            and self.knew(n.commit, item.commit)
            for n in self.noted
        )

    def came_to_nothing(self, item: Noted, final: dict[str, dict[str, Value]]) -> bool:
        """Whether it went back to what others still had, while one of them changed it."""
        stands = final.get(item.key, {}).get(item.address)
        for n in self.noted:
            same = (n.key, n.address) == (item.key, item.address)
            if same and same_value(n.value, stands) and not self.knew(n.commit, item.commit):
                base = plain_git(self.books[0].folder, "merge-base", n.commit, item.commit).strip()
                before = self.state(self.books[0], base).get(item.key, {}).get(item.address)
                if same_value(before, item.value):
                    return True
        return False

    def entry_lived_on(self, item: Noted, final: dict[str, dict[str, Value]]) -> bool:
        """Whether an entry was taken out while somebody changed it: then it stays, told."""
        entry = ".".join(item.address.split(".")[:2]) + "."
        changed = any(
            n.key == item.key and n.address.startswith(entry) and n.value is not None
            for n in self.noted
        )
        return item.value is None and item.address.count(".") == 2 and changed and any(
            f"{entry[:-1]} was taken out on one side" in said for said in self.said
        )  # fmt: skip

    def rubbed(self, item: Noted) -> bool:
        """Whether its author took the pencil of it away."""
        for box in self.books:
            folder = box.folder / ".git/witnessmark/pencil" / item.person
            for journal in folder.glob(f"{item.key.replace('/', '.')}.jsonl"):
                if '"rub-out"' in journal.read_text() and item.address in journal.read_text():
                    return True
        return False

    def knew(self, later: str, earlier: str) -> bool:
        folder = self.books[0].folder
        found = plain_git(folder, "merge-base", earlier, later).strip()
        return found == earlier
