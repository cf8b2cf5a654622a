"""Programs, photos and files: the finer points of each rule."""

from __future__ import annotations

import os
import struct
import zlib

import pytest

from engine.checks.linked import picture_fault
from engine.repo import work_tree as history_files

from .conftest import ONE, PROGRAM, TWO, Mini, picture, sha
from .faults import set_program


def rules(mini: Mini) -> list[str]:
    return [finding.rule for finding in mini.findings()]


@pytest.mark.parametrize(
    ("ending", "text", "said"),
    [
        (None, b"M30", ""),
        (None, b"m 9 9", ""),
        (None, b"M2", "waits for a person"),
        (None, b"M60", "has no end"),
        ("attended", b"M02", ""),
        ("attended", b"M30", "goes on"),
        ("tended", b"M2", "M2 in line 5"),
        (None, b"/M2\nM30", "ends with M2"),
        (None, b"/M30\nM2", "when block delete is on"),
    ],
)
def test_the_end_must_suit_the_cell(mini: Mini, ending: str | None, text: bytes, said: str) -> None:
    set_program(mini, PROGRAM.replace(b"N40 M30", text))
    if ending:
        mini.one["program"]["ending"] = ending
    found = mini.findings()
    assert [f.rule for f in found] == (["program-end"] if said else [])
    assert not said or said in found[0].message


def test_a_cell_that_names_no_ends_is_said_once_at_the_cell(mini: Mini) -> None:
    del mini.cell["cell"]["ends_tended"]
    set_program(mini, PROGRAM.replace(b"M30", b"M2"))
    assert [(f.rule, f.record) for f in mini.findings()] == [("ends-unclear", "cells/north")]


def test_the_program_is_read_anew_each_time(mini: Mini) -> None:
    assert mini.findings() == []
    mini.write("programs/cup_1.nc", PROGRAM.replace(b"M30", b"M2"))
    assert rules(mini) == ["program-changed", "program-end"]
    mini.write("programs/cup_1.nc", PROGRAM)
    assert mini.findings() == []


def test_the_hint_takes_the_hash_of_the_file_as_it_is_now(mini: Mini) -> None:
    assert mini.book
    mini.write("programs/cup_1.nc", PROGRAM + b"\n")
    hint = mini.findings()[0].hint
    assert f"`witnessmark set {ONE} program.sha256=now`" in hint
    mini.book.document(ONE).pencil.set("program.sha256", "now")
    mini.book.document(ONE).ink("proved out anew")
    assert mini.findings() == []


def test_a_program_that_is_a_folder_too_large_or_behind_a_link(
    mini: Mini, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert mini.book
    path = mini.folder / "programs/cup_1.nc"
    path.unlink()
    path.mkdir()
    assert rules(mini) == ["program-unreadable"]
    path.rmdir()
    os.mkfifo(path)
    assert rules(mini) == ["program-unreadable"]
    path.unlink()
    mini.write("programs/cup_1.nc", PROGRAM)
    small = history_files.read_file.__defaults__
    monkeypatch.setattr(history_files.read_file, "__defaults__", (10,))
    assert "program-unreadable" in rules(mini)
    monkeypatch.setattr(history_files.read_file, "__defaults__", small)
    assert mini.findings() == []


@pytest.mark.parametrize("path", ["../x.nc", "/etc/passwd", "programs/../../x", ".git/config"])
def test_a_path_that_leads_outside(mini: Mini, path: str) -> None:
    mini.one["program"]["file"] = path
    assert "program-outside" in rules(mini)


def test_named_roots_are_the_allowed_ones(mini: Mini) -> None:
    mini.trees["book.toml"]["roots"] = {"programs": ["nc/"]}
    found = mini.findings()
    assert {f.rule for f in found} == {"program-outside"}
    assert "nc/" in found[0].message


# photos


def test_which_pictures_can_be_read() -> None:
    for kind in ("JPEG", "PNG", "WEBP"):
        data = picture(kind=kind)
        assert picture_fault(data, sha(data)) == ""
    for data in (picture(kind="GIF"), picture(kind="BMP"), b"", b"%!PS\n", b"<svg/>"):
        assert "no picture" in picture_fault(data, sha(data))


def test_a_picture_of_too_many_pixels_is_not_decoded() -> None:
    for across, along in ((8000, 8000), (60000, 60000)):
        data = _png(across, along)
        assert "more than 50 million" in picture_fault(data, sha(data))


def _png(across: int, along: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        whole = kind + body
        return struct.pack(">I", len(body)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", across, along, 8, 0, 0, 0, 0)
    rest = chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + rest


def test_a_photo_shows_what_the_jaws_are_now(mini: Mini) -> None:
    """Only what can be seen makes a photo old, and a new picture makes it new."""
    mini.one["photos"]["jaws"]["shows"] = "jaws"
    book = mini.book
    for address, text in (("jaws.kept_at", "rack 2"), ("jaws.clamp_pressure", "19")):
        book.document(ONE).pencil.set(address, text)
        book.document(ONE).ink("moved")
    assert mini.findings() == []
    book.document(ONE).pencil.set("jaws.id", "J-2")
    book.document(ONE).ink("other jaws")
    assert rules(mini) == ["photo-older"]
    book.document(ONE).pencil.set("photos.jaws.note", "the inner step is the seat")
    book.document(ONE).ink("a word")
    assert rules(mini) == ["photo-older"]
    mini.write("photos/jaws_1.jpg", picture(201))
    book.document(ONE).pencil.set("photos.jaws.sha256", "now")
    book.document(ONE).ink("a new photo")
    assert mini.findings() == []


def test_a_photo_without_a_hash_is_new_when_its_bytes_are(mini: Mini) -> None:
    mini.one["photos"]["jaws"] = {"file": "photos/jaws_1.jpg", "shows": "jaws"}
    book = mini.book
    book.document(ONE).pencil.set("jaws.bite", "8.0")
    book.document(ONE).ink("bored anew")
    assert rules(mini) == ["photo-older"]
    mini.write("photos/jaws_1.jpg", picture(201))
    assert rules(mini) == ["file-not-inked"]
    book.document(ONE).ink("a new photo")
    assert mini.findings() == []


def test_a_photo_inked_with_the_change_is_new(mini: Mini) -> None:
    mini.one["photos"]["jaws"]["shows"] = "jaws"
    book = mini.book
    mini.write("photos/jaws_1.jpg", picture(201))
    book.document(ONE).pencil.set_all({"jaws.bite": "8.0", "photos.jaws.sha256": "now"})
    book.document(ONE).ink("bored anew")
    assert mini.findings() == []


def test_a_copy_and_a_rename_make_no_photo_old(mini: Mini) -> None:
    mini.one["photos"]["jaws"]["shows"] = "jaws"
    mini.book.document(ONE).copy("cup-op11", "another cup")
    mini.book.document(ONE).rename("cup-op12", "renumbered")
    assert mini.findings() == []


# files


def test_a_file_that_is_linked_in_pencil_or_by_a_broken_record_is_no_stray(mini: Mini) -> None:
    assert mini.book
    mini.write("photos/new.jpg", picture(7))
    assert rules(mini) == ["file-unlinked"]
    mini.book.document(ONE).pencil.set("photos.tray.file", "photos/new.jpg")
    assert mini.findings() == []
    mini.write(f"records/{TWO}.toml", b"= = =\nprograms/other.nc\n")
    mini.by_hand()
    mini.write("programs/other.nc", PROGRAM)
    mini.book.refresh()
    found = mini.findings()
    assert {f.file for f in found if f.rule == "file-unlinked"} == {
        "programs/cup_2.nc",
        "photos/jaws_2.jpg",
    }


def test_a_folder_of_old_programs_is_said_in_a_few_words(mini: Mini) -> None:
    assert mini.book
    for number in range(1000):
        mini.write(f"programs/old/o{number}.nc", b"M30\n")
    mini.write("programs/.hidden", b"")
    found = mini.findings()
    assert len(found) == 21
    assert sum("980 more files" in f.message for f in found) == 1


def test_names_that_are_no_text_do_not_stop_the_check(mini: Mini) -> None:
    assert mini.book
    (mini.folder / os.fsdecode(b"programs/\xff\n.nc")).write_bytes(b"")
    found = mini.findings()
    assert [f.rule for f in found] == ["file-unlinked"]
    found[0].file.encode()


def test_a_root_behind_a_link_is_not_followed(mini: Mini) -> None:
    mini.trees["book.toml"]["roots"] = {"programs": ["programs", "more"]}
    assert mini.book
    (mini.folder / "more").symlink_to("/etc")
    assert mini.findings() == []
