"""Objects are held against their names: what was damaged or written over is told, never shown."""

from __future__ import annotations

import json
import shutil
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.book import Book
from engine.repo.object_id import object_id
from schemas.errors import BookError
from tests.mini_book import SEAT, plain_git, session_of
from tests.shop_floor import Opener, Stepping, ink, log_in
from tui.commands.frame import run
from tui.main import witnessmark

REACH = "positions.seat.reach"
FILE = f"records/{SEAT}.toml"


def loose(folder: Path, oid: str) -> Path:
    return folder / ".git/objects" / oid[:2] / oid[2:]


def write_over(folder: Path, oid: str, change: Callable[[bytes], bytes]) -> Path:
    """Put another object, sound by itself, under the name of one."""
    file = loose(folder, oid)
    head, _, data = zlib.decompress(file.read_bytes()).partition(b"\0")
    other = change(data)
    assert other != data
    file.chmod(0o644)
    file.write_bytes(zlib.compress(b"%s %d\0" % (head.split()[0], len(other)) + other))
    return file


def rev(folder: Path, name: str) -> str:
    return plain_git(folder, "rev-parse", name).strip()


@pytest.fixture
def told(at: Opener, folder: Path) -> Path:
    """The little book, with three inks of a value; nobody has read its history yet."""
    mira = at("mira")
    for reach in ("612.5", "612.6", "612.7"):
        ink(mira, SEAT, "wear", positions__seat__reach=reach)
    return folder


LIES: dict[str, tuple[str, Callable[[bytes], bytes]]] = {
    "a text": (f"HEAD~1:{FILE}", lambda data: data.replace(b"612.6", b"999.6")),
    "who made a save": ("HEAD~1", lambda data: data.replace(b"Mira Falk", b"Ole Brandt")),
    "what stood before": ("HEAD~1", lambda data: data.replace(b"wear", b"tear")),
    "a folder": ("HEAD~1:records", lambda data: data.replace(b"bush-op20", b"bush-op30")),
    "the list of files": ("HEAD~1^{tree}", lambda data: data.replace(b"records", b"retords")),
}


@pytest.mark.parametrize("no_index", ["", "1"])
@pytest.mark.parametrize("lie", LIES)
def test_what_was_written_over_is_told_with_id_and_file_and_never_shown(
    told: Path, monkeypatch: pytest.MonkeyPatch, lie: str, no_index: str, tmp_path: Path
) -> None:
    name, change = LIES[lie]
    oid = rev(told, name)
    file = write_over(told, oid, change)
    monkeypatch.setenv("WITNESSMARK_NO_INDEX", no_index)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cold"))
    book = Book.open(told, login="ada", clock=Stepping())
    for question in (
        lambda: book.document(SEAT).past.trace(REACH),
        lambda: book.history().items,
        lambda: list(book.every_change()),
    ):
        with pytest.raises(BookError, match=oid[:12]) as refused:
            question()
        assert refused.value.where == file.relative_to(told).as_posix()
        assert "another copy" in refused.value.hint
    book.close()


def test_a_state_that_was_written_over_is_not_shown_though_the_index_knows_it(
    told: Path, at: Opener
) -> None:
    mira = at("mira")
    assert len(mira.document(SEAT).past.trace(REACH)) == 4
    write_over(told, rev(told, f"HEAD~1:{FILE}"), LIES["a text"][1])
    assert [str(i.change.new) for i in at("mira").document(SEAT).past.trace(REACH)][2] == "612.6"
    with pytest.raises(BookError, match="not what its name says"):
        at("mira").document(SEAT).show("ink-3")
    with pytest.raises(BookError, match="not what its name says"):
        at("mira").document(SEAT).restore("ink-3", reason="back")


def test_a_save_never_leans_on_a_rotten_file(told: Path, at: Opener) -> None:
    mira = at("mira")
    mira.history()
    blob = rev(told, f"HEAD~1:{FILE}")
    file = write_over(told, blob, LIES["a text"][1])
    ink(mira, SEAT, "as before", positions__seat__reach="612.6")
    assert rev(told, f"HEAD:{FILE}") == blob
    assert b"612.6" in zlib.decompress(file.read_bytes())
    assert at("ada").document(SEAT).show("ink-3").values
    ink(mira, SEAT, "away", positions__seat__reach="612.9")
    mira.history()
    loose(told, blob).chmod(0o644)
    loose(told, blob).write_bytes(b"rotten")
    ink(mira, SEAT, "back", positions__seat__reach="612.6")
    assert Book.check_objects(told) == []


# looking at all of them


def faults(folder: Path) -> list[tuple[str, str, str]]:
    return [(f.rule, f.record, f.file) for f in Book.check_objects(folder)]


def state(folder: Path) -> dict[str, tuple[float, int]]:
    found = ((p, p.stat()) for p in folder.rglob("*") if p.is_file())
    return {str(p): (s.st_mtime, s.st_size) for p, s in found}


@pytest.mark.parametrize("packed", [False, True])
def test_a_sound_book_has_no_findings_and_is_not_touched(told: Path, packed: bool) -> None:
    if packed:
        plain_git(told, "repack", "-qad")
        plain_git(told, "prune-packed")
    before = state(told)
    assert faults(told) == []
    assert state(told) == before


@pytest.mark.parametrize("how", ["over", "rotten", "gone"])
@pytest.mark.parametrize(
    ("name", "record"),
    [
        (f"HEAD~1:{FILE}", SEAT),
        (f"HEAD:{FILE}", SEAT),
        ("HEAD:cells/lathe.toml", "cells/lathe"),
        ("HEAD:programs/seat.nc", "book"),
        ("HEAD~1:records", "book"),
        ("HEAD~1^{tree}", "book"),
        ("HEAD~1", "book"),
        ("HEAD", "book"),
    ],
)
def test_each_damaged_object_is_found_with_what_it_concerns(
    told: Path, how: str, name: str, record: str
) -> None:
    oid = rev(told, name)
    file = loose(told, oid)
    if how == "over":
        write_over(told, oid, lambda data: data + b" ")
    elif how == "rotten":
        file.chmod(0o644)
        file.write_bytes(file.read_bytes()[:12])
    else:
        file.unlink()
    found = [f for f in Book.check_objects(told) if oid[:12] in f.message]
    assert [(f.rule, f.record) for f in found] == [
        ("object-missing" if how == "gone" else "object-damaged", record)
    ]
    where = ".git/objects/pack" if how == "gone" else file.relative_to(told).as_posix()
    assert found[0].file == where
    assert "copy" in found[0].hint
    if name != "HEAD":
        assert "save" in found[0].message


def test_several_faults_are_all_found(told: Path) -> None:
    names = [f"HEAD:{FILE}", f"HEAD~1:{FILE}", f"HEAD~2:{FILE}", "HEAD:people.toml"]
    oids = [rev(told, name) for name in names]
    for n, oid in enumerate(oids):
        file = loose(told, oid)
        file.chmod(0o644)
        file.write_bytes(b"" if n % 2 else b"no zlib at all")
    said = " ".join(f.message for f in Book.check_objects(told))
    assert all(oid[:12] in said for oid in oids)


def test_what_the_hint_says_mends_it(told: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    plain_git(tmp_path, "clone", "-q", "--no-hardlinks", str(told), str(copy))
    plain_git(copy, "repack", "-qad")
    oid = rev(told, f"HEAD~1:{FILE}")
    file = write_over(told, oid, LIES["a text"][1])
    assert len(faults(told)) == 1
    file.rename(tmp_path / "kept")
    shutil.copytree(copy / ".git/objects", told / ".git/objects", dirs_exist_ok=True)
    assert faults(told) == []


def test_a_packed_object_that_lies_is_found(told: Path) -> None:
    plain_git(told, "repack", "-qad")
    plain_git(told, "prune-packed")
    (pack,) = (told / ".git/objects/pack").glob("*.pack")
    data = bytearray(pack.read_bytes())
    data[len(data) // 2] ^= 0x55
    pack.chmod(0o644)
    pack.write_bytes(bytes(data))
    found = Book.check_objects(told)
    assert found  # which of them depends on where the byte lies
    assert {f.rule for f in found} <= {"object-missing", "object-damaged"}
    lost = [f for f in found if f.rule == "object-missing"]
    assert all("or its pack is damaged" in f.message for f in lost)


def test_a_file_that_no_save_needs_is_told_as_such(told: Path) -> None:
    data = b"nobody's"
    oid = object_id(b"blob", data)
    file = loose(told, oid)
    file.parent.mkdir(exist_ok=True)
    file.write_bytes(zlib.compress(b"blob 3\0abc"))
    (found,) = Book.check_objects(told)
    assert "nothing that was read leads to it" in found.message


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_the_command(
    told: Path, capsys: pytest.CaptureFixture[str], form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_in(monkeypatch, "ada")
    words = ["--book", str(told), "check", "--objects", "--format", form]
    assert run(witnessmark, words) == 0
    capsys.readouterr()
    oid = rev(told, "HEAD")
    write_over(told, oid, LIES["who made a save"][1])  # such a book does not even open
    assert run(witnessmark, words) == 1
    out = capsys.readouterr().out
    assert oid[:12] in out
    if form == "json":
        (item,) = json.loads(out)["items"]
        assert (item["rule"], item["level"]) == ("object-damaged", "error")
    assert run(witnessmark, [*words, SEAT]) == 2


def test_an_object_by_the_longer_hash_is_held_against_it(tmp_path: Path) -> None:
    folder = tmp_path / "long"
    folder.mkdir()
    plain_git(folder, "init", "-q", "-b", "main", "--object-format=sha256", ".")
    book = Book.start(folder, login="ole", clock=Stepping())
    assert len(session_of(book).head) == 64
    book.close()
    assert faults(folder) == []
    oid = rev(folder, "HEAD:people.toml")
    write_over(folder, oid, lambda data: data + b" ")
    assert faults(folder) == [
        ("object-damaged", "people", loose(folder, oid).relative_to(folder).as_posix())
    ]
