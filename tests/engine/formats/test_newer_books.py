"""A book of a later program: read as far as it can be, never written, never merged."""

from __future__ import annotations

import pytest

from engine.book import Book
from schemas.errors import Refused
from schemas.rewriting import format_of
from tests.engine.formats.conftest import CAP, LONG
from tests.mini_book import BUSH, SEAT, SEAT_ID, Stepping, plain_git

RUN = f"runs/{SEAT_ID}/20300101-0101-abcd.toml"
NEWER = {
    f"records/{BUSH}.toml": 'format = 3\n\n[record]\nid = "wm-bush20"\nsoul = "new"\n',
    "book.toml": 'format = 2\n\n[book]\nname = "Little shop"\nid = "little"\nmotto = "new"\n',
    "people.toml": "format = 7\n[guild]\n",
    "cells/mill.toml": "# ours\n  format=2\n",
    RUN: "format = 2\n\n[run]\n",
    f"signoffs/{SEAT_ID}/x.toml": "format = 3\n\n[sign_off\n",
    "events/lathe/x.toml": "format = 12\n",
}


def put(folder, path, text):
    (folder / path).parent.mkdir(parents=True, exist_ok=True)
    (folder / path).write_text(text)
    plain_git(folder, "add", path)
    plain_git(folder, "commit", "-qm", "a later program wrote this")


ACTS = {
    "ink": lambda book: (
        book.document(SEAT).pencil.set("lot.quantity", "7"),
        book.document(SEAT).ink(),
    ),
    "new": lambda book: book.new("fresh", part="x", cell="lathe", units="mm"),
    "copy": lambda book: book.document(SEAT).copy("other"),
    "rename": lambda book: book.document(SEAT).rename("other"),
    "retire": lambda book: book.document(SEAT).retire(),
    "run": lambda book: book.document(SEAT).runs.start(),
    "event": lambda book: book.event("lathe", "crash", "bang"),
    "sign-off": lambda book: book.document(SEAT).sign_off(),
    "cell": lambda book: (
        book.document("cells/lathe").pencil.set("axes.lift.speed", "9"),
        book.document("cells/lathe").ink(),
    ),
}


@pytest.mark.parametrize("path", NEWER)
def test_nothing_is_written_into_a_newer_book(at, folder, path):
    ole = at("ole")
    ole.document(SEAT).pencil.set("lot.quantity", "8")
    put(folder, path, NEWER[path])
    head = plain_git(folder, "rev-parse", "HEAD")
    for book in (ole, Book.open(folder, as_person="ole", login="ole", clock=Stepping())):
        for act in ACTS.values():
            with pytest.raises(Refused, match=f"a newer program wrote {path}") as info:
                act(book)
            assert "Bring this program up to date" in info.value.hint
    assert plain_git(folder, "rev-parse", "HEAD") == head
    assert ole.document(SEAT).pencil.draft().marks[0].address == "lot.quantity"


@pytest.mark.parametrize("path", NEWER)
def test_a_newer_book_is_read_as_far_as_it_can_be(at, folder, path):
    put(folder, path, NEWER[path])
    for person in ("mira", "ada"):
        book = at(person)
        listed = {item.record: item for item in book.list_records()}
        assert set(listed) == {SEAT, BUSH}
        assert listed[SEAT].part == "Seat"
        assert book.document(SEAT).values()["jaws.kept_at"] == "rack 4"
        assert len(book.document(SEAT).past.trace("jaws.bite")) == 1
        assert len(book.history(per_page=500).items) > 100
        assert book.document(SEAT).past.marks()
        assert book.warnings() or path not in ("book.toml", "people.toml")
        assert book.check()
    if path.startswith("records/"):
        assert "A newer program wrote it" in book.document(BUSH).show().problems[0].hint
        assert (
            len(book.document(BUSH).past.trace("jaws.bite")) == 2
        )  # begun, and taken out by the newer text
        assert [p.what for p in listed[BUSH].problems][:1]


def test_a_sync_takes_in_nothing_newer_and_sends_nothing(small_book, tmp_path):
    first = small_book("first")
    hub = tmp_path / "hub.git"
    plain_git(tmp_path, "clone", "-q", "--bare", str(first), str(hub))
    plain_git(tmp_path, "clone", "-q", str(hub), "later")
    put(tmp_path / "later", "book.toml", NEWER["book.toml"])
    plain_git(tmp_path / "later", "push", "-q", "origin", "main")
    there = plain_git(hub, "rev-parse", "main")
    clock = Stepping()
    plain_git(tmp_path, "clone", "-q", str(hub), "behind")
    plain_git(tmp_path / "behind", "reset", "-q", "--hard", "HEAD~1")
    book = Book.open(tmp_path / "behind", login="mira", clock=clock)
    head = book.head
    done = book.sync()  # going forward
    assert "a newer program wrote book.toml" in done.problem
    assert "Bring this program up to date" in done.problem
    assert (book.head, done.came, done.waiting) == (head, (), ())
    book.document(SEAT).pencil.set("lot.quantity", "9")
    mine = book.document(SEAT).ink().commit
    done = book.sync()  # a merge would be needed
    assert "a newer program wrote book.toml" in done.problem
    assert [sent.commit for sent in done.waiting] == [mine]
    assert (book.head, plain_git(hub, "rev-parse", "main")) == (mine, there)
    plain_git(tmp_path / "behind", "merge", "-q", "-X", "theirs", "--no-edit", "origin/main")
    done = book.sync()  # it is here already, by plain git
    assert "a newer program wrote book.toml" in done.problem
    assert plain_git(hub, "rev-parse", "main") == there
    book.close()


def test_what_was_looked_through_is_remembered_by_what_was_known(at, folder, monkeypatch):
    from engine.log import formats

    monkeypatch.setattr(formats, "_MANY", 1)
    ole = at("ole")
    ole.document(BUSH).retire()
    memory = folder / ".git/witnessmark/formats.json"
    assert ole.head not in memory.read_text()  # the parent was looked through
    reads = []
    real = formats.format_of
    monkeypatch.setattr(formats, "format_of", lambda data: (reads.append(1), real(data))[1])
    at("ole").document(BUSH).retire(back=True)
    assert len(reads) == 1
    monkeypatch.setitem(formats.FORMATS, "cell", 0)  # as an older program would have it
    with pytest.raises(Refused, match=r"cells/.* format 1, and this program knows up to 0"):
        at("ole").document(BUSH).retire()
    for spoilt in ("", "[]", "{", '{"commit": 5}'):
        memory.write_text(spoilt)
        with pytest.raises(Refused):
            at("ole").document(BUSH).retire()


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("format = 12\n", 12),
        ("\ufeff# x\r\n format  =  3 # y\r\n", 3),
        ("format = 4\nx = [\n", 4),
        ("x = [\n[a]\nformat = 4\n", 0),
        ("format = true\n", 0),
        ("format = 'x'\n", 0),
        ("", 0),
    ],
)
def test_the_format_of_a_format_is_read_from_any_text(text, number):
    assert format_of(text.encode()) == number


def test_the_old_book_itself_is_none(old):
    vera = old("vera")
    vera.document(CAP).pencil.set("lot.quantity", "7")
    assert vera.document(CAP).ink().commit
    assert vera.document(LONG).runs.refill().commit
