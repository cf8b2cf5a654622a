"""What people do in a campaign, on a copy of the little book, and what they were told of it.

An act notes `pencilled` as soon as a value was accepted, and `inked` with the commit as soon
as a save was confirmed: what stands in the notes may never be lost. After `by hand` a
colleague commits with plain git before anybody opens the book (see `oracle`).
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from engine.book import Book, DocumentHandle, mending
from schemas.document import check_tree, read_document
from schemas.errors import NotShown
from tests.campaigns.children import Notes
from tests.mini_book import BUSH, SEAT, SEAT_ID, Stepping, files, plain_git

ADDRESS, PROGRAM = "positions.seat.reach", "programs/seat.nc"
OTHER = "tools.T04.stick_out"
INDEX_LOCK, HOLDS = ".git/index.lock", b"somebody's"
SAVES = ("save", "twice", "by hand", "held")  # acts that ink the value with the program
Act = Callable[[Path, Notes, int], None]


def value_of(n: int) -> str:
    """The taught value of the n-th save."""
    return f"{600 + n % 300}.{n // 300:03d}"


def opened(folder: Path, login: str = "mira") -> Book:
    """The book, with a person in front of it."""
    return Book.open(folder, login=login, clock=Stepping())


def edit_program(folder: Path, n: int) -> None:
    """What a person does to the program with other means; nothing where it was done beforehand."""
    wanted = f"O1\n(save {value_of(n)})\nM30\n".encode()
    if (folder / PROGRAM).read_bytes() != wanted:
        (folder / PROGRAM).write_bytes(wanted)


def put_down(document: DocumentHandle, notes: Notes, address: str, value: str) -> None:
    """Pencil a value. It was accepted where only what stands there then cannot be shown, too."""
    try:
        document.pencil.set(address, value)
    except NotShown:
        notes.add("pencilled", address=address, value=value)
        raise
    notes.add("pencilled", address=address, value=value)


def pencil(folder: Path, notes: Notes, n: int) -> None:
    """A value in pencil, another one, and the second undone."""
    book = opened(folder)
    document = book.document(SEAT_ID)
    put_down(document, notes, ADDRESS, value_of(n))
    put_down(document, notes, OTHER, f"{60 + n}.5")
    document.pencil.undo()
    notes.add("undone", address=OTHER)


def save(folder: Path, notes: Notes, n: int) -> None:
    """A taught value and a changed program, in one ink."""
    edit_program(folder, n)
    book = opened(folder)
    put_down(book.document(SEAT_ID), notes, ADDRESS, value_of(n))
    done = book.document(SEAT_ID).ink(f"save {n}")
    notes.add("inked", address=ADDRESS, value=value_of(n), commit=done.commit)


def twice(folder: Path, notes: Notes, n: int) -> None:
    """Two inks of one value, one after the other."""
    save(folder, notes, n)
    save(folder, notes, n + 1)


def held(folder: Path, notes: Notes, n: int) -> None:
    """The same while somebody's git holds the index all the time."""
    mending.A_MOMENT = 0.02
    twice(folder, notes, n)


def run(folder: Path, notes: Notes, n: int) -> None:
    """A whole lot."""
    runs = opened(folder, "ole").document(SEAT_ID).runs
    notes.add("inked", commit=runs.start(110 + n).commit)
    notes.add("inked", commit=runs.confirm().commit)
    notes.add("inked", commit=runs.piece("first").commit)
    notes.add("inked", commit=runs.stop(108, 2).commit)


def sign_off(folder: Path, notes: Notes, n: int) -> None:
    """A lead accepts the record, after noting that nothing else is known."""
    done = opened(folder, "ole").document(SEAT_ID).sign_off(f"seen, {n}")
    notes.add("inked", commit=done.commit)


def rename(folder: Path, notes: Notes, n: int) -> None:
    """The record gets another name."""
    done = opened(folder).document(SEAT_ID).rename(f"seat-no{n}", "another name")
    notes.add("inked", commit=done.commit)


def restore(folder: Path, notes: Notes, n: int) -> None:
    """Back to the first ink of the record, program included."""
    done = opened(folder).document(SEAT_ID).restore("ink-2" if n % 2 else "ink-1", "", "back")
    notes.add("inked", commit=done.commit)


def sync(folder: Path, notes: Notes, n: int) -> None:
    """Two boxes met: another one inked meanwhile, both sides are joined and sent."""
    book = opened(folder)
    put_down(book.document(SEAT_ID), notes, ADDRESS, value_of(n))
    done = book.document(SEAT_ID).ink(f"save {n}")
    notes.add("inked", address=ADDRESS, value=value_of(n), commit=done.commit)
    told = book.sync()
    notes.add("synced", problem=told.problem, head=told.head)


def begin(folder: Path, notes: Notes, n: int) -> None:
    """A book is started on files that lie there."""
    del n
    book = Book.start(folder, login="ole", clock=Stepping())
    notes.add("inked", commit=book.head)


CREW = tuple(f"setter-{n}" for n in range(8))  # besides the little book's own people


def with_crew(folder: Path) -> None:
    """The little book, in which eight more setters may ink."""
    made = files()
    people = read_document(made["people.toml"], "people.toml").tree
    for key in CREW:
        people["people"][key] = {"name": key.title(), "roles": ["setter"], "logins": [key]}
    made["people.toml"] = check_tree(people, "people.toml").bytes
    for path, data in made.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    Book.start(folder, login="ole", clock=Stepping()).close()


ACTS: dict[str, Act] = {
    "save": save, "twice": twice, "by hand": twice, "held": held, "pencil": pencil, "run": run,
    "sign-off": sign_off, "rename": rename, "restore": restore, "sync": sync, "init": begin,
}  # fmt: skip


class Boxes:
    """Pattern boxes, each as an act wants to find it; a case gets a copy of its own."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self._made: dict[str, Path] = {}
        self._n = 0

    def fresh(self, act: str) -> tuple[Path, Notes]:
        """A new folder with `book` in it (and `hub.git` for a sync), and empty notes beside it."""
        if act not in self._made:
            self._made[act] = self._pattern(act)
        self._n += 1
        box = self.place / f"{act}-{self._n}"
        shutil.copytree(self._made[act], box, symlinks=True)
        for name in ("book", "other") if act == "sync" else ():
            plain_git(box / name, "config", "remote.origin.url", str(box / "hub.git"))
        if act == "held":
            (box / "book" / INDEX_LOCK).write_bytes(HOLDS)
        if act in SAVES:
            edit_program(box / "book", 2)
        return box, Notes(self.place / f"{act}-{self._n}.notes")

    def done_with(self, box: Path) -> None:
        """Take a case's folder away."""
        shutil.rmtree(box, ignore_errors=True)

    def _pattern(self, act: str) -> Path:
        box = self.place / f"pattern-{act}"
        book = box / "book"
        if act == "init":
            for path, data in files().items():
                (book / path).parent.mkdir(parents=True, exist_ok=True)
                (book / path).write_bytes(data)
            return box
        with_crew(book)
        if act not in ("run", "sign-off"):
            save(book, Notes(box / "first.notes"), 1)
        if act == "sync":
            self._two_boxes(box)
        return box

    def _two_boxes(self, box: Path) -> None:
        plain_git(box, "clone", "-q", "--bare", "book", "hub.git")
        plain_git(box, "clone", "-q", "hub.git", "other")
        other = opened(box / "other", "ole")
        other.document(BUSH).pencil.set("lot.quantity", "77")
        other.document(BUSH).ink("of another box")
        other.document(SEAT).pencil.set("lot.quantity", "78")
        other.document(SEAT).ink("of another box")
        other.close()
        plain_git(box / "other", "push", "-q", "origin", "main")
        plain_git(box / "book", "remote", "add", "origin", str(box / "hub.git"))
