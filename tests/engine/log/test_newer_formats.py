"""What a newer program wrote is found before anything is written, whatever was remembered."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.log import formats
from engine.log.formats import Formats, Newer
from engine.repo.git import Git
from schemas.document import FORMATS
from schemas.errors import Refused
from tests.engine.log.test_who_changed_what import FILE, Hand
from tests.mini_book import plain_git

NEWER = Newer(FILE, 99, FORMATS["record"])


@pytest.fixture
def hand(folder: Path) -> Hand:
    return Hand(folder)


@pytest.fixture
def memory(tmp_path: Path) -> Path:
    (tmp_path / "own").mkdir()
    return tmp_path / "own" / "formats.json"


def test_a_newer_file_is_named_with_both_numbers(hand: Hand, memory: Path) -> None:
    fine = plain_git(hand.folder, "rev-parse", "HEAD").strip()
    hand.write("format = 2", "format = 99")
    newer = hand.commit()
    looks = Formats(Git(hand.folder), memory)
    assert (looks.newer(""), looks.newer(fine), looks.newer(newer)) == (None, None, NEWER)
    assert looks.newer(newer) == NEWER, "it stays so at the next look"
    looks.stop_if_newer("", fine)
    with pytest.raises(Refused, match=f"wrote {FILE}: it has format 99, .* up to 2"):
        looks.stop_if_newer(fine, newer)
    assert NEWER.refusal("here").where == "here"


@pytest.mark.parametrize("path", ["programs/seat.nc", "notes/format.toml", "readme.toml"])
def test_only_files_of_the_book_have_a_format(hand: Hand, memory: Path, path: str) -> None:
    (hand.folder / path).parent.mkdir(exist_ok=True)
    (hand.folder / path).write_text("format = 99\n")
    assert Formats(Git(hand.folder), memory).newer(hand.commit()) is None


@pytest.mark.parametrize("kind", sorted(FORMATS))
def test_the_newest_format_that_is_known_is_no_newer_one(
    hand: Hand, memory: Path, kind: str
) -> None:
    path = {
        "record": FILE, "cell": "cells/lathe.toml", "people": "people.toml", "book": "book.toml",
        "run": "runs/wm-seat10/a.toml", "sign-off": "signoffs/wm-seat10/a.toml",
        "event": "events/lathe/a.toml",
        "acknowledgement": "acknowledged/past/a.toml",
    }[kind]  # fmt: skip
    for more in (0, 1):
        (hand.folder / path).parent.mkdir(parents=True, exist_ok=True)
        (hand.folder / path).write_text(f"format = {FORMATS[kind] + more}\n")
        found = Formats(Git(hand.folder), memory).newer(hand.commit())
        assert bool(found) == bool(more)


def test_what_was_looked_through_is_not_read_again(
    hand: Hand, memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its commit, and only by a program that knows the same formats."""
    monkeypatch.setattr(formats, "_MANY", 3)
    read: list[int] = []
    real = formats.format_of
    monkeypatch.setattr(formats, "format_of", lambda data: (read.append(1), real(data))[1])

    def look(commit: str) -> int:
        read.clear()
        assert Formats(Git(hand.folder), memory).newer(commit) is None
        return len(read)

    first = plain_git(hand.folder, "rev-parse", "HEAD").strip()
    assert look(first) == 6, "records, cells, people, book"
    assert look(first) == 0
    second = hand.quantity(5)
    assert look(second) == 1
    assert json.loads(memory.read_text())["commit"] == first, "so few are no trouble to read again"
    monkeypatch.setitem(formats.FORMATS, "run", 98)
    assert look(second) == 6


@pytest.mark.parametrize("note", ["", "[]", "{", "{}", '{"commit": 5, "formats": {}}', "\xff"])
def test_a_note_that_is_not_sound_costs_time_only(hand: Hand, memory: Path, note: str) -> None:
    memory.write_text(note, encoding="latin-1")
    hand.write("format = 2", "format = 99")
    assert Formats(Git(hand.folder), memory).newer(hand.commit()) == NEWER


def test_a_folder_that_cannot_be_written_costs_the_memory_only(
    hand: Hand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(formats, "_MANY", 1)
    (tmp_path / "file").write_text("no folder")
    looks = Formats(Git(hand.folder), tmp_path / "file" / "formats.json")
    assert looks.newer(plain_git(hand.folder, "rev-parse", "HEAD").strip()) is None
