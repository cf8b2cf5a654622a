"""What one box knew of a book's head: on a few commits of plain git, worked by hand."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from engine.log.known_tip import KnownTip, LostTip
from engine.repo.git import Git
from tests.shop_floor import HAND_EDIT, plain_git

NOON = datetime.fromisoformat("2026-03-02T12:00:00+01:00")
STRANGER = "5" * 40


class Box:
    """A repository, and the tip that is known of it; each `KnownTip` stands for one process."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        plain_git(folder, "init", "-q", "-b", "main")
        self.folder = folder
        self.private = folder / ".git" / "witnessmark"

    def commit(self, subject: str, name: str = "Mira Falk") -> str:
        """One more commit."""
        plain_git(
            self.folder, "-c", f"user.name={name}", "commit", "-q", "--allow-empty", "-m", subject
        )
        return self.head

    @property
    def head(self) -> str:
        return plain_git(self.folder, "rev-parse", "HEAD").strip()

    def back(self, to: str) -> None:
        plain_git(self.folder, "reset", "-q", "--hard", to)

    def tip(self) -> KnownTip:
        return KnownTip(Git(self.folder))

    def look(self, head: str = "", at: datetime = NOON) -> list[LostTip]:
        """Open the book at a head; what is lost then."""
        tip, head = self.tip(), head or self.head
        tip.look(head, lambda: at)
        return tip.lost(head)

    def known(self) -> str:
        return (self.private / "known").read_text()


@pytest.fixture
def box(tmp_path: Path) -> Box:
    return Box(tmp_path / "box")


def test_a_head_that_only_goes_on_loses_nothing(box: Box) -> None:
    for subject in ("one", "two", "three"):
        head = box.commit(subject)
        assert box.look() == []
        assert box.known() == f"{head}\n"
    assert not (box.private / "lost").exists()


def test_an_empty_book_is_not_looked_at(box: Box) -> None:
    box.tip().look("", lambda: NOON)
    assert not (box.private / "known").exists()


def test_what_is_gone_is_written_down_with_who_made_it(box: Box) -> None:
    base = box.commit("base")
    two, three = box.commit("two", "Ole Brandt"), box.commit("three\n\nand why")
    four = box.commit("four: of Mira\n\nand why")
    box.look()
    box.back(base)
    fresh = box.commit("another")
    (lost,) = box.look()
    assert lost == LostTip(
        four, NOON.isoformat(), 3, (four, three, two), {"Mira Falk": 2, "Ole Brandt": 1},
        "four: of Mira",
    )  # fmt: skip
    assert box.known() == f"{fresh}\n"
    held = plain_git(box.folder, "rev-parse", f"refs/witnessmark/lost/{four}").strip()
    assert held == four, "so that git never throws its commits away"
    assert box.look(at=NOON + timedelta(days=1)) == [lost], "when it was noticed stays"


def test_whoever_reads_a_head_that_is_older_by_now_takes_nothing_back(box: Box) -> None:
    """Another process saved between two looks of this one."""
    old, new = box.commit("one"), box.commit("two")
    box.look(new)
    assert box.look(old) == []
    assert box.known() == f"{new}\n"
    box.back(old)
    assert [lost.tip for lost in box.look(old)] == [new], "but where it is the head now"


def test_a_tip_that_comes_back_is_forgotten(box: Box) -> None:
    base, tip = box.commit("base"), box.commit("tip")
    box.look()
    box.back(base)
    assert len(box.look()) == 1
    box.back(tip)
    box.commit("on it")
    assert box.look() == []
    assert list((box.private / "lost").iterdir()) == []


def test_a_tip_in_the_past_of_another_is_lost_with_that(box: Box) -> None:
    base = box.commit("base")
    low, high = box.commit("low"), box.commit("high")
    box.back(base)
    other = box.commit("other")
    box.back(base)
    tip = box.tip()
    for n, each in enumerate((high, low, other)):
        tip.lose(each, base, NOON - timedelta(hours=n))
    assert [lost.tip for lost in tip.lost(base)] == [other, high], "the oldest first"
    assert [lost.tip for lost in box.tip().lost(base)] == [other, high]


def test_of_a_tip_whose_objects_are_not_here_the_name_is_kept(box: Box) -> None:
    box.commit("base")
    box.private.mkdir()
    (box.private / "known").write_text(f"{STRANGER}\n")
    assert box.look() == [LostTip(STRANGER, NOON.isoformat())]
    assert plain_git(box.folder, "for-each-ref", "refs/witnessmark") == ""


@pytest.mark.parametrize(
    "text", ["", "no commit", "5" * 39, "5" * 41, f"{'5' * 40} x", "G" * 40, "\xff"]
)
def test_what_is_no_commit_was_never_the_head(box: Box, text: str) -> None:
    head = box.commit("base")
    box.private.mkdir()
    (box.private / "known").write_text(text, encoding="latin-1")
    assert box.look() == []
    assert box.known() == f"{head}\n"


SOUND = {"at": "x", "count": 2, "saves": ["a", "b"], "whose": {"Mira": 2}, "last": "words"}


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        (f"{STRANGER}.json", json.dumps(SOUND),
         [LostTip(STRANGER, "x", 2, ("a", "b"), {"Mira": 2}, "words")]),
        (f"{'5' * 64}.json", json.dumps(SOUND),
         [LostTip("5" * 64, "x", 2, ("a", "b"), {"Mira": 2}, "words")]),
        (f"{STRANGER}.json", "", [LostTip(STRANGER, "")]),
        (f"{STRANGER}.json", "[" * 100_000, [LostTip(STRANGER, "")]),
        *((f"{STRANGER}.json", json.dumps(SOUND | odd), [LostTip(STRANGER, "")])
          for odd in ({"count": "many"}, {"saves": 5}, {"whose": []}, {"whose": {"Mira": None}})),
        *((f"{STRANGER}.json", json.dumps({k: v for k, v in SOUND.items() if k != gone}),
           [LostTip(STRANGER, "")]) for gone in SOUND),
        (f"{STRANGER}", json.dumps(SOUND), []),
        ("notes.json", json.dumps(SOUND), []),
        (f"{'5' * 39}.json", json.dumps(SOUND), []),
    ],
)  # fmt: skip
def test_of_a_note_that_is_not_sound_the_name_still_counts(
    box: Box, name: str, text: str, found: list[LostTip]
) -> None:
    head = box.commit("base")
    (box.private / "lost").mkdir(parents=True)
    (box.private / "lost" / name).write_text(text)
    assert box.tip().lost(head) == found


def test_a_folder_that_cannot_be_written_costs_the_memory_and_not_the_answer(box: Box) -> None:
    base, gone = box.commit("base"), box.commit("gone")
    box.look()
    box.back(base)
    (box.private / "lost").write_text("no folder")
    tip = box.tip()
    tip.look(base, lambda: HAND_EDIT)
    assert [(lost.tip, lost.at) for lost in tip.lost(base)] == [(gone, HAND_EDIT.isoformat())]
    assert box.tip().lost(base) == []


def test_whatever_lies_in_its_place_is_taken_aside(box: Box) -> None:
    head = box.commit("base")
    (box.private / "known").mkdir(parents=True)
    (box.private / "known" / "mine").write_text("kept")
    assert box.look() == []
    assert box.known() == f"{head}\n"
    assert [p.read_text() for p in box.private.rglob("mine")] == ["kept"]
