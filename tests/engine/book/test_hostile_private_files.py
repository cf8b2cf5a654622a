"""Whoever can write to the private folder leads nobody elsewhere, and closes no book."""

import json
import os
import shutil
import socket

import pytest

from engine.book import Book
from engine.drafts.marks import PencilMark, is_sound_mark, pack
from schemas.errors import BookError, Refused, WitnessmarkError
from tests.mini_book import SEAT, SEAT_ID, START, Stepping, plain_git, session_of
from tests.shop_floor import edit

DEEP = b'{"do":"set","marks":' + b"[" * 100_000 + b"]" * 100_000 + b"}\n"
BASE = "0" * 40


def _link(path, other):
    path.symlink_to(other)


def _dangling(path, other):
    path.symlink_to(other.parent / "nowhere")


def _fifo(path, _):
    os.mkfifo(path)


def _folder(path, _):
    path.mkdir()


def _socket(path, _):
    here = os.open(path.parent, os.O_RDONLY)  # a socket's own path may be too long
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(f"/proc/self/fd/{here}/{path.name}")
    os.close(here)


def _huge(path, _):
    with path.open("wb") as file:
        file.truncate(65_000_000)


ODD = [_link, _dangling, _fifo, _folder, _socket, _huge]


@pytest.fixture
def other(tmp_path):
    """A file outside the book that nobody may touch or read."""
    made = tmp_path / "outside"
    made.mkdir()
    (made / "file").write_text("mine\n")
    yield made / "file"
    assert (made / "file").read_text() == "mine\n"
    assert [p.name for p in made.iterdir()] == ["file"]


def journal(folder, person="mira", name=f"{SEAT_ID}.jsonl"):
    path = folder / ".git/witnessmark/pencil" / person / name
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def aside(folder):
    where = folder / ".git/witnessmark/aside"
    return sorted(where.iterdir()) if where.exists() else []


def everything(book):
    """All that a colleague looks at."""
    book.list_records()
    book.drafts()
    book.refused_pencil()
    book.refresh()
    book.document(SEAT).drafts()
    book.history()
    return book.check()


@pytest.mark.parametrize("make", ODD)
def test_a_colleagues_odd_journal_closes_nothing_and_stays(folder, other, make):
    path = journal(folder)
    make(path, other)
    before = path.lstat()
    book = Book.open(folder, login="ole", clock=Stepping())
    found = [f for f in everything(book) if "pencil of Mira Falk cannot be read" in f.message]
    assert len(found) == 1
    assert found[0].record == SEAT
    (said,) = book.pencil_troubles()
    assert "Mira Falk on seat-op10" in said
    assert str(path) in said
    book.document(SEAT).pencil.set("lot.quantity", "7")
    book.document(SEAT).ink()
    assert path.lstat() == before
    book.close()


@pytest.mark.parametrize("make", ODD)
def test_my_own_odd_journal_is_taken_aside_and_said(folder, other, make):
    path = journal(folder)
    make(path, other)
    before = path.lstat().st_ino
    book = Book.open(folder, login="mira", clock=Stepping())
    everything(book)
    book.document(SEAT).pencil.set("lot.quantity", "7")
    (kept,) = aside(folder)
    assert kept.lstat().st_ino == before
    (said,) = book.notices()
    assert str(kept) in said
    assert book.notices() == []
    assert path.is_file()
    assert not path.is_symlink()
    assert [m.address for m in book.document(SEAT).pencil.draft().marks] == ["lot.quantity"]
    assert book.document(SEAT).ink().commit
    book.close()


@pytest.mark.parametrize("make", [_link, _dangling, _fifo])
@pytest.mark.parametrize("where", ["mira", "everybody"])
def test_an_odd_folder_of_pencil_leads_nowhere(folder, other, make, where):
    pencil = folder / ".git/witnessmark/pencil"
    shutil.rmtree(pencil, ignore_errors=True)
    place = pencil if where == "everybody" else pencil / "mira"
    place.parent.mkdir(exist_ok=True)
    make(place, other.parent)
    for login in ("ole", "mira"):
        book = Book.open(folder, login=login, clock=Stepping())
        everything(book)
        assert any(str(place) in said for said in book.pencil_troubles())
        book.close()
    book = Book.open(folder, login="mira", clock=Stepping())
    if where == "everybody":
        with pytest.raises(BookError, match="it is a") as caught:
            book.document(SEAT).pencil.set("lot.quantity", "7")
        assert caught.value.hint
    else:
        book.document(SEAT).pencil.set("lot.quantity", "7")
        assert book.document(SEAT).pencil.draft()
        assert len(aside(folder)) == 1
    book.close()


def line(address="lot.quantity", value="7", inked="110", do="set", **more):
    mark = {"address": address, "value": value, "inked": inked, "base": BASE}
    mark |= {"at": START.isoformat()} | more
    return json.dumps({"do": do, "draft": "d-1", "marks": [mark]}).encode() + b"\n"


def at_head(folder, data):
    """The same marks, made when the present head was inked."""
    return data.replace(BASE.encode(), plain_git(folder, "rev-parse", "HEAD").strip().encode())


NONSENSE = {
    "deep": DEEP,
    "list": b"[1]\n",
    "number": b"7\n",
    "twice": line()[:-2] + b',"do":"set"}\n',
    "nan": b'{"do":"set","draft":"d","x":NaN,"marks":[]}\n',
    "no UTF-8": line(value='"\xe9"').replace(b"\\u00e9", b"\xe9"),
    "UTF-16": line().decode().encode("utf-16-be").replace(b"\n", b" ") + b"\n",
    "long": line(value='"' + "x" * 1_100_000 + '"'),
    "half a sign": line(value='"\ud800"'),
    "marks a table": b'{"do":"set","draft":"d","marks":{"a":1}}\n',
    "marks text": b'{"do":"set","draft":"d","marks":"abc"}\n',
    "do unknown": line(do="sing"),
    "do a list": line().replace(b'"set"', b'["set"]'),
    "draft a number": line().replace(b'"d-1"', b"1"),
    "draft with lines": line().replace(b"d-1", b"d\\nPerson: ole"),
    "base with lines": line(base="HEAD\nHEAD:records/bush-op20.toml"),
    "base an option": line(base="--output=/tmp/x"),
    "base a number": line(base=7),
    "address a list": line(address=["lot"]),
    "address with lines": line(address="lot\nquantity"),
    "address with escapes": line(address="lot.\x1b[2J"),
    "address deep": line(address=".".join("abcdefghij")),
    "value a number": line(value=7),
    "value two": line(value="7\ny = 8"),
    "value a table": line(value="{a = 1}"),
    "value nan": line(value="nan"),
    "value huge": line(value="1e400"),
    "value a time": line(value="07:30:00"),
    "value deep": line(value="[" * 3000 + "]" * 3000),
    "note a list": line(note=["x"]),
    "note long": line(note="x" * 5000),
    "moment without zone": line(at="2026-03-02T07:00:00"),
    "moment a number": line(at=7),
    "commit with lines": b'{"do":"inked","draft":"d","commit":"a\\nb","marks":[]}\n',
    "zeros": b"\0" * 5000 + b"x\n",
}


@pytest.mark.parametrize("name", NONSENSE)
def test_lines_that_make_no_sense_are_passed_over_and_kept_aside(folder, name):
    good, path = at_head(folder, line("jaws.clamp_pressure", "18", "17")), journal(folder)
    path.write_bytes(good + NONSENSE[name] + at_head(folder, line("lot.quantity", "9")))
    ole = Book.open(folder, login="ole", clock=Stepping())
    found = everything(ole)
    assert any("1 entries of the pencil of Mira Falk cannot be read" in f.message for f in found)
    assert path.read_bytes().startswith(good + NONSENSE[name])
    ole.close()
    mira = Book.open(folder, login="mira", clock=Stepping())
    mira.document(SEAT).pencil.set("tools.T04.stick_out", "63.0")
    marks = {m.address for m in mira.document(SEAT).pencil.draft().marks}
    assert marks == {"jaws.clamp_pressure", "lot.quantity", "tools.T04.stick_out"}
    (kept,) = aside(folder)
    assert kept.read_bytes() == NONSENSE[name]
    assert str(kept) in mira.notices()[0]
    assert not any("cannot be read" in f.message for f in everything(mira))
    mira.document(SEAT).ink("because")
    assert "Person: ole" not in plain_git(folder, "log", "-1", "--format=%B")
    mira.close()


FORGED = {
    "record.id": '"wm-bush20"',
    "format": "9",
    "record.copied_from": '"wm-bush20"',
    "no.such.address": "7",
    "positions": "7",
    "lot.quantity": '"many"',
    "positions.seat.reach": '"612"',
    "jaws.kept_at": "7",
    "notes.text": '"\\u001b[2J"',
    "record.units": '"furlong"',
    "tray.unused": "7",
}


@pytest.mark.parametrize("address", FORGED)
def test_a_mark_that_could_not_be_typed_is_shown_and_never_inked(folder, address):
    before = plain_git(folder, "show", f"HEAD:records/{SEAT}.toml")
    other = "jaws.clamp_pressure" if address == "lot.quantity" else "lot.quantity"
    data = line(address, FORGED[address], None) + line(other, "18", "17")
    journal(folder).write_bytes(at_head(folder, data))
    mira = Book.open(folder, login="mira", clock=Stepping())
    (shown,) = mira.refused_pencil(SEAT)
    assert [(m.address, m.note[:12]) for m in shown.marks] == [(address, "not accepted")]
    assert any("is not accepted" in f.message for f in everything(mira))
    done = mira.document(SEAT).ink("because")
    assert [c.address for c in done.changes] == [other]
    after = plain_git(folder, "show", f"HEAD:records/{SEAT}.toml")
    assert [line for line in after.splitlines() if line not in before][1:] == []
    assert mira.refused_pencil(SEAT)  # it stays, and is said, until it is rubbed out
    with pytest.raises(Refused, match="nothing to ink"):
        mira.document(SEAT).ink("because")
    mira.document(SEAT).pencil.rub_out([address])
    assert not mira.refused_pencil(SEAT)
    mira.close()


@pytest.mark.parametrize("document", ["cells.lathe", "people", "book"])
def test_pencil_of_a_setter_on_what_is_the_leads_is_not_accepted(folder, document):
    address = {"cells.lathe": "cell.name", "people": "people.mira.name", "book": "book.name"}
    journal(folder, "mira", f"{document}.jsonl").write_bytes(line(address[document], '"x"', '"y"'))
    ole = Book.open(folder, login="ole", clock=Stepping())
    assert ole.drafts() == []
    (shown,) = ole.refused_pencil()
    assert "is no lead" in shown.marks[0].note
    ole.close()


def test_what_is_typed_is_accepted(folder):
    """The rules for journals take all that the rules for typing take."""
    mira = Book.open(folder, login="mira", clock=Stepping())
    record = mira.document(SEAT)
    for typed in (
        {"positions.seat.reach": "612.400", "lot.quantity": "7", "jaws.kept_at": "x y"},
        {"blank.diameter": "71.5, 72.5", "tray.unused": "r1c1, r2c2", "record.units": "mm"},
        {"program.sha256": "now", "notes.text": "a\nb", "jaws.clamp_pressure": "18"},
    ):
        record.pencil.set_all(typed)
    record.pencil.clear("offsets")
    assert mira.refused_pencil() == []
    assert record.ink("because").commit
    mira.close()


def note(**odd):
    sound = {"commit": "a" * 40, "parent": "", "pencil": None, "paths": [], "behind": {}}
    return json.dumps(sound | odd).encode()


NOTES = [
    b"", b"{", b"[]", b"7", b"null", b'{"commit": 1}', DEEP, b"\xff\xfe", b"NaN",
    note(paths="abc"), note(paths=["../x"]), note(paths=[7]), note(commit="HEAD\nHEAD"),
    note(commit=[]), note(pencil=5), note(pencil=["../x", "y", "d", []]), note(pencil=[1, 2, 3, 4]),
    note(commit=None), note(parent=None), note(closing=[[None, ["mira", SEAT_ID, "d", []]]]),
    note(behind={"a\0b": None}), note(behind={"a": "x"}), note(behind=[]), note(aside=[7]),
]  # fmt: skip


def saved(folder):
    """A save by two people, one after the other."""
    for login, value in (("mira", "7"), ("ole", "8")):
        book = Book.open(folder, login=login, clock=Stepping())
        book.document(SEAT).pencil.set("lot.quantity", value)
        book.document(SEAT).ink()
        book.close()


@pytest.mark.parametrize("data", NOTES)
def test_a_note_that_is_none_is_taken_aside_and_leads_to_nothing(folder, data):
    (folder / ".git/witnessmark/intent.json").write_bytes(data)
    saved(folder)
    assert [kept.read_bytes() for kept in aside(folder)] == [data]
    assert not (folder / ".git/witnessmark/intent.json").exists()
    assert plain_git(folder, "status", "--porcelain") == ""


@pytest.mark.parametrize("make", ODD)
def test_something_in_the_place_of_the_note_is_taken_aside(folder, other, make):
    make(folder / ".git/witnessmark/intent.json", other)
    saved(folder)
    assert len(aside(folder)) == 1


@pytest.mark.parametrize("make", [_link, _fifo, _folder, _socket, _dangling])
def test_a_lock_that_is_none_is_told_and_nobody_waits(folder, other, make):
    lock = folder / ".git/witnessmark/lock"
    lock.unlink(missing_ok=True)
    make(lock, other)
    book = Book.open(folder, login="mira", clock=Stepping())
    book.document(SEAT).pencil.set("lot.quantity", "7")
    with pytest.raises(BookError, match="lock of this book") as caught:
        book.document(SEAT).ink()
    assert caught.value.hint
    assert not (other.parent / "nowhere").exists()
    book.close()


@pytest.mark.parametrize("make", [_dangling, _fifo, _socket, _huge])
def test_something_in_the_place_of_the_private_folder_is_told(folder, other, make):
    edit(folder, f"records/{SEAT}.toml", "rack 4", "rack 5")
    shutil.rmtree(folder / ".git/witnessmark")
    make(folder / ".git/witnessmark", other)
    if make is _dangling:  # a link there is refused before anything is looked at
        with pytest.raises(BookError, match="private folder is a link"):
            Book.open(folder, login="mira", clock=Stepping())
        return
    book = Book.open(folder, login="mira", clock=Stepping())
    seat = book.document(SEAT)
    for act in (
        lambda: seat.pencil.set("lot.quantity", "7"),
        lambda: seat.runs.start(5),
        seat.on_disk.put_back,
        seat.on_disk.take,
    ):
        with pytest.raises(BookError, match="it is a ") as caught:
            act()
        assert caught.value.hint
    assert "rack 5" in (folder / f"records/{SEAT}.toml").read_text()
    book.close()


FOLDERS = ["found", "aside", "lost"]
FILES = ["formats.json", "met.json", "known", "index-lock"]


@pytest.mark.parametrize("make", ODD)
@pytest.mark.parametrize("name", FOLDERS + FILES)
def test_other_odd_files_are_not_followed(folder, other, make, name):
    place = folder / ".git/witnessmark" / name
    if name in FILES:
        place.unlink(missing_ok=True)
    make(place, other.parent if name in FOLDERS else other)
    saved(folder)
    assert plain_git(folder, "status", "--porcelain") == ""
    plain_git(folder, "commit", "-q", "--amend", "-m", "as if nothing was")  # a tip is lost
    book = Book.open(folder, login="mira", clock=Stepping())
    assert book.waiting() is not None
    assert book.past_errors()
    file = folder / f"records/{SEAT}.toml"
    file.write_text(file.read_text() + "\n# by hand\n")
    try:
        book.document(SEAT).on_disk.put_back()
    except (WitnessmarkError, OSError):
        assert name == "found"
        assert "by hand" in file.read_text()
    else:
        assert "by hand" not in file.read_text()
    book.close()


def test_notes_of_meeting_points_that_make_no_sense_are_none(folder):
    from engine.repo.meeting_point import MeetingPoint

    book = Book.open(folder, login="mira", clock=Stepping())
    there = MeetingPoint(session_of(book).git, "/tmp/there")
    for note in ({"tip": 7, "at": 8}, {"tip": "HEAD\nx", "at": START.isoformat()}, [], "x",
                 {"tip": BASE, "at": "never"}, {"tip": BASE, "at": "2026-03-02"}):  # fmt: skip
        text = json.dumps({there.address: note})
        (folder / ".git/witnessmark/met.json").write_text(text)
        assert there.seen() is None
    book.close()


def test_a_name_with_a_line_end_asks_for_nothing(at):
    git = session_of(at("mira")).git
    head = git.head()
    assert git.object(f"{head}\n{head}") == ("", b"")
    assert git.object("--batch-all-objects") == ("", b"")
    assert git.object(f"HEAD:records/{SEAT}.toml\nHEAD")[0] == ""
    assert not git.is_ancestor("--all", head)
    assert git.commits_beginning("HEAD") == []
    assert git.object(head)[0] == head  # nothing was left in the pipe
    with pytest.raises(ValueError, match="names no object"):
        git._pipe.ask([f"{head}\n{head}"])
    assert git.object(head)[0] == head


def test_marks_are_packed_as_they_are_read(at):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "7")
    packed = pack(PencilMark("lot.quantity", 7, None, BASE, START, "found on disk"))
    assert json.loads(line())["marks"][0].keys() | {"note"} == packed.keys()


def test_a_long_reason_that_a_mark_repeats_makes_no_nonsense_of_it():
    """What a sync sets aside names the reason of a save, which anybody may have made as long."""
    packed = pack(PencilMark("lot.quantity", 7, None, BASE, START, "set aside: " + "x" * 5000))
    assert is_sound_mark(packed)
    assert packed["note"].startswith("set aside: x")
