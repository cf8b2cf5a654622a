"""Texts at hand while the index is built: what is kept, what goes; no answer depends on it."""

from __future__ import annotations

import pytest

from engine.log import recent_texts
from engine.log.recent_texts import RecentTexts

OLD = b"format = 2\n\n[jaws]\nbite = 7\nid = 1\n\n[lot]\nquantity = 5\n"
NEW = OLD.replace(b"quantity = 5", b"quantity = 6")
BY_HAND = OLD.replace(b"bite = 7", b"bite = 7 # measured")
TABLE_MORE = OLD + b"\n[notes]\ntext = 1\n"


class Git:
    """Has every text, and takes notes of what it was asked for."""

    def __init__(self, **texts: bytes) -> None:
        self.texts = texts
        self.asked: list[str] = []

    def blob(self, oid: str) -> bytes:
        self.asked.append(oid)
        return self.texts[oid]


def changed(
    kept: RecentTexts, kind: str, old: str, new: str
) -> tuple[dict[str, str], dict[str, str]] | None:
    """What stands in the tables that differ between two texts."""
    found = kept.quick_change(kind, [old], new)
    return (dict(found[0][0]), dict(found[1])) if found else None


def test_what_was_put_or_read_once_is_at_hand() -> None:
    git = Git(a=b"one", b=b"two")
    kept = RecentTexts(git)
    kept.put("b", b"two")
    assert [kept.blob("a"), kept.blob("b"), kept.blob("a")] == [b"one", b"two", b"one"]
    assert git.asked == ["a"]
    assert (kept.touch("a"), kept.touch("b"), kept.touch("c")) == (True, True, False)


def test_the_one_that_was_not_used_for_the_longest_time_goes_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(recent_texts, "_KEPT_BYTES", 10)
    kept = RecentTexts(Git())
    kept.put("a", b"1234")
    kept.put("b", b"1234")
    kept.put("b", b"1234")  # once more: it takes no more room
    assert kept.touch("a")
    kept.put("c", b"12")
    assert [kept.touch(name) for name in "bac"] == [True, True, True], "ten bytes fit"
    kept.put("d", b"1")
    assert [kept.touch(name) for name in "bacd"] == [False, True, True, True]
    kept.put("e", b"123")
    assert [kept.touch(name) for name in "acde"] == [True, True, True, True]
    kept.put("big", b"1" * 99)
    assert [kept.touch(name) for name in ("a", "c", "d", "e", "big")] == [False] * 4 + [True]


def test_what_went_comes_from_git_with_the_same_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    git = Git(old=OLD, new=NEW, hand=BY_HAND, more=TABLE_MORE)
    roomy, narrow = RecentTexts(git), RecentTexts(git)
    names = ("old", "new", "hand", "more")
    wanted = [changed(roomy, "record", a, b) for a in names for b in names]
    monkeypatch.setattr(recent_texts, "_KEPT_BYTES", 1)
    assert [changed(narrow, "record", a, b) for a in names for b in names] == wanted
    assert [narrow.read("record", name) for name in names] == [
        roomy.read("record", name) for name in names
    ]


def test_what_stands_before_the_first_table_is_left_to_the_full_reader() -> None:
    """The number of the format stands there, by which all the rest is understood."""
    old = OLD.replace(b"format = 2\n", b"format = 2\nnumber = 1\n")
    kept = RecentTexts(Git(old=old, new=old.replace(b"number = 1", b"number = 2"), other=NEW))
    assert changed(kept, "record", "old", "new") is None
    assert changed(kept, "record", "old", "other") is None


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("old", "new", ({"lot.quantity": "5"}, {"lot.quantity": "6"})),
        ("new", "old", ({"lot.quantity": "6"}, {"lot.quantity": "5"})),
        ("old", "old", ({}, {})),
        ("hand", "old", ({}, {})),  # not as our writer spells it, and the same
        ("old", "hand", ({}, {})),
        ("old", "more", None),  # another table
    ],
)
def test_what_stands_in_tables_that_differ(
    old: str, new: str, found: tuple[dict[str, str], dict[str, str]] | None
) -> None:
    kept = RecentTexts(Git(old=OLD, new=NEW, hand=BY_HAND, more=TABLE_MORE))
    assert changed(kept, "record", old, new) == found
    assert changed(kept, "record", old, new) == found, "and once more, from what is known"


def test_a_chain_of_changes_is_followed_by_what_was_learnt_of_the_first_text() -> None:
    """The shape of a text that differs in values only is that of the one before."""
    third = NEW.replace(b"bite = 7", b"bite = 8")
    kept = RecentTexts(Git(old=OLD, new=NEW, third=third))
    changed(kept, "record", "old", "new")
    assert changed(kept, "record", "new", "third") == (
        {"jaws.bite": "7"}, {"jaws.bite": "8"},
    )  # fmt: skip


def test_a_text_is_read_by_the_meaning_of_its_kind() -> None:
    """Names that changed with a format changed in records; a cell's stay."""
    text = b'format = 1\n\n[jaws]\nplace = "rack 4"\n'
    kept = RecentTexts(Git(old=text, new=text.replace(b"4", b"5")))
    assert kept.read("record", "old") == {"format": "2", "jaws.kept_at": '"rack 4"'}
    assert kept.read("cell", "old") == {"format": "1", "jaws.place": '"rack 4"'}
    assert changed(kept, "record", "old", "new") == (
        {"jaws.kept_at": '"rack 4"'}, {"jaws.kept_at": '"rack 5"'},
    )  # fmt: skip
    assert changed(kept, "cell", "old", "new") == (
        {"jaws.place": '"rack 4"'}, {"jaws.place": '"rack 5"'},
    )  # fmt: skip
