"""What a text is and says, by its blob; and what is kept of it from one process to the next."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from engine.log import index_file
from engine.log.document_cache import DocumentCache, record_id
from engine.log.index import IndexedPast
from engine.log.locations import NOWHERE, Location, any_path, is_record, locate
from engine.log.past import NO_INDEX, Past
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from schemas.errors import ReadError
from tests.engine.log.test_who_changed_what import FILE, KEY, Hand
from tests.mini_book import BUSH, plain_git

PATH = "records/any.toml"


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('format = 2\n\n[record]\nid = "wm-abc123"\n', "wm-abc123"),
        ('format = 2\n[record]\npart = "P"\nid = "wm-abc123"\n', "wm-abc123"),
        ('[record]\nid = "wm-abc123"\n\n[record.x]\n', "wm-abc123"),
        ('record = {id = "wm-abc123"}\n', "wm-abc123"),
        ('format = 2\n\n[record]\nid = "wm-abc123"\n\n[jaws\n', "wm-abc123"),  # no TOML any more
        ('[record]\r\nid  =  "wm-abc123"\r\n[jaws\r\n', "wm-abc123"),
        ('[jaws]\nid = "wm-jaws01"\n[record]\nid = "wm-abc123"\n[x\n', "wm-abc123"),
        ('[jaws]\nid = "wm-jaws01"\n[x\n', "records/any"),
        ('[record]\nid = "abc123"\n', "records/any"),
        ('[record]\nid = "wm-ABC123"\n', "records/any"),
        ('[record]\nid = "wm-abc"\n', "records/any"),
        ('[record]\nid = "wm-abcdefghijklm"\n', "records/any"),
        ('[record]\nid = "wm-abc123 "\n', "records/any"),
        ("[record]\nid = 5\n", "records/any"),
        ("", "records/any"),
        ("\x00", "records/any"),
    ],
)
def test_whose_a_text_is(text: str, key: str) -> None:
    """Its own identity, where it says one that can be; else its name, which is nobody else's."""
    assert record_id(PATH, text.encode()) == key


def test_bytes_that_are_no_text_still_say_whose_they_are() -> None:
    assert record_id(PATH, b'# \xff\n[record]\nid = "wm-abc123"\n') == "wm-abc123"
    assert record_id(PATH, b"\xff") == "records/any"


class Texts:
    """Blobs by their names, each read from git at most once."""

    def __init__(self, **texts: str) -> None:
        self.texts = texts
        self.read: list[str] = []

    def blob(self, oid: str) -> bytes:
        self.read.append(oid)
        return self.texts[oid].encode()


def test_values_stand_even_where_a_rule_is_broken_and_not_where_nothing_can_be_read() -> None:
    sound = 'format = 2\n\n[record]\nid = "wm-abc123"\npart = "P"\ncell = "mill"\nunits = "mm"\n'
    blobs = Texts(sound=sound, odd=sound + "[jaws]\nbite = true\n", none="[jaws\n")
    cache = DocumentCache(blobs)
    assert cache.document(PATH, "sound").values["record.part"] == "P"
    for name in ("odd", "none"):
        with pytest.raises(ReadError):
            cache.document(PATH, name)
    assert (cache.values(PATH, "odd") or {})["jaws.bite"] is True
    assert (cache.values(PATH, "none"), cache.values(PATH, "")) == (None, {})
    assert (cache.spelt(PATH, "none"), cache.spelt(PATH, "")) == (None, {})
    assert (cache.spelt(PATH, "odd") or {})["jaws.bite"] == "true"
    assert (cache.spelt(PATH, "sound") or {})["record.part"] == '"P"'
    blobs.read.clear()
    assert cache.document(PATH, "sound").path == PATH
    assert cache.values(PATH, "odd")
    assert blobs.read == []


def test_what_is_no_record_is_its_path_whatever_it_says() -> None:
    cache = DocumentCache(Texts(a='[record]\nid = "wm-abc123"\n'))
    assert cache.key("cells/mill.toml", "a") == "cells/mill"
    assert cache.key("runs/wm-abc123/1.toml", "a") == "runs/wm-abc123/1"
    assert cache.key("book.toml", "a") == "book"
    assert cache.key(PATH, "a") == "wm-abc123"


def test_a_document_lies_at_the_first_of_its_paths() -> None:
    keys = {"1": "wm-a", "2": "wm-b", "3": "wm-a"}
    tree = {"records/z.toml": "1", "records/b.toml": "3", "records/a.toml": "2"}

    def at(*paths: str) -> Location:
        return locate(tree, "wm-a", paths, lambda _, blob: keys[blob])

    assert at(*tree) == at("records/b.toml") == Location("records/b.toml", "3")
    assert at("records/z.toml", "records/a.toml", "records/gone.toml") == ("records/z.toml", "1")
    assert at("records/a.toml") == at() == NOWHERE


def test_a_record_is_known_by_its_key() -> None:
    assert [is_record(key) for key in ("wm-a", "records/a", "cells/a", "people", "wmrong")] == [
        True, True, False, False, False,
    ]  # fmt: skip
    assert [any_path(key) for key in ("wm-a", "records/a", "cells/a", "book")] == [
        "records/wm-a.toml", "records/a.toml", "cells/a.toml", "book.toml",
    ]  # fmt: skip


# the past as a book asks for it


@pytest.fixture
def hand(folder: Path) -> Hand:
    return Hand(folder)


@pytest.fixture(params=["index", "walk"])
def opened(
    request: pytest.FixtureRequest, hand: Hand, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Past]:
    """The past, each way; `refresh()` it."""
    if request.param == "walk":
        monkeypatch.setenv(NO_INDEX, "1")
    past = Past(Git(hand.folder))
    yield past
    past.close()


def head_of(hand: Hand) -> str:
    return plain_git(hand.folder, "rev-parse", "HEAD").strip()


def test_keys_of_texts_that_were_seen_are_not_read_again_and_old_ones_are_let_go(
    hand: Hand, opened: Past, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened.refresh(head_of(hand))
    files = [(path, blob) for path, blob in opened.git.tree(opened.head).under("records")]
    wanted = {files[0]: "wm-bush20", files[1]: KEY}
    assert opened.keys(files) == wanted
    read: list[str] = []
    real = opened.key
    monkeypatch.setattr(opened, "key", lambda path, blob: (read.append(path), real(path, blob))[1])
    assert (opened.keys(files), read) == (wanted, [])
    assert opened.keys(files[1:]) == {files[1]: KEY}
    assert (opened.keys(files), read) == (wanted, [files[0][0]]), "the other one had been let go"
    moved = ("records/moved.toml", files[1][1])
    assert opened.keys([moved]) == {moved: KEY}
    assert read[1:] == [moved[0]], "a text without identity goes by its path"


def test_where_a_document_lay(hand: Hand, opened: Past) -> None:
    begin = head_of(hand)
    plain_git(hand.folder, "mv", FILE, "records/moved.toml")
    moved = hand.commit()
    plain_git(hand.folder, "rm", "-q", f"records/{BUSH}.toml")
    gone = hand.commit()
    opened.refresh(gone)
    assert opened.place_at(begin, KEY).path == FILE
    assert opened.place_at(moved, KEY).path == "records/moved.toml"
    assert opened.place_at(gone, "wm-bush20") == NOWHERE
    assert opened.place_at("", KEY) == NOWHERE
    blob = opened.place_at(begin, KEY).blob
    assert (opened.values(FILE, blob) or {})["jaws.bite"] == Decimal("7.5")


def test_a_document_that_only_another_side_has_is_looked_for_where_it_is_said_to_be(
    hand: Hand, opened: Past
) -> None:
    begin = head_of(hand)
    hand.branch("side")
    path = "records/new.toml"
    (hand.folder / path).write_text((hand.folder / FILE).read_text().replace(KEY, "wm-new0001"))
    side = hand.commit()
    opened.refresh(begin)
    assert opened.place_at(side, "wm-new0001") == NOWHERE
    assert opened.place_at(side, "wm-new0001", near=path).path == path
    assert opened.place_at(side, KEY, near=path).path == FILE


def test_a_head_that_another_one_does_not_descend_from_is_said(hand: Hand, opened: Past) -> None:
    begin = head_of(hand)
    gone = hand.quantity(5)
    opened.refresh(begin)
    assert opened.count() == 1
    opened.refresh(gone)
    assert (opened.count(), opened.rewritten) == (2, "")
    plain_git(hand.folder, "reset", "-q", "--hard", "HEAD~1")
    opened.refresh(hand.quantity(6))
    for words in (opened.rewritten, opened.notice()):
        assert re.search(rf"\b{gone[:10]}\b", words)
    assert opened.saved(gone) is None
    assert opened.known_at(gone)(begin) is False, "nothing is where that is unknown"
    assert opened.known_at(begin)(gone) is False


def test_commits_after_another(hand: Hand, opened: Past) -> None:
    begin, one, two = head_of(hand), hand.quantity(5), hand.quantity(6)
    opened.refresh(two)
    assert [opened.after(base) for base in (two, one, begin)] == [set(), {two}, {one, two}]
    assert opened.after("0" * 40) == {begin, one, two}
    assert [opened.rank(c)[1] for c in (begin, one, two, "0" * 40)] == [0, 1, 2, -1]
    assert opened.rank("0" * 40) == (-1, -1)
    assert opened.commits_beginning(one[:8]) == [one]
    asked = (begin, one, two, "0" * 40)
    assert [opened.known_at(begin)(c) for c in asked] == [True, False, False, False]
    assert [opened.known_at(one)(c) for c in asked] == [True, True, False, False]
    assert [opened.known_at("0" * 40)(c) for c in asked] == [False] * 4


def test_answers_that_were_kept_are_recalled_by_how_their_names_begin(
    hand: Hand, opened: Past
) -> None:
    opened.refresh(head_of(hand))
    opened.keep({"a/1": "x", "a/2": "y", "b/1": "z", "a": "w"})
    opened.keep({"a/2": "new"})
    assert opened.recall("a/") == {"a/1": "x", "a/2": "new"}
    assert opened.recall("a") == {"a": "w", "a/1": "x", "a/2": "new"}
    assert (opened.recall("c"), opened.recall("b/1x")) == ({}, {})
    opened.keep({})


def test_each_way_says_itself_what_was_rewritten(hand: Hand) -> None:
    """The walk, too, which is asked where there is no index."""
    gone = hand.quantity(5)
    git = Git(hand.folder)
    walked = WalkedPast(git, DocumentCache(git))
    walked.refresh(gone)
    assert walked.rewritten == ""
    plain_git(hand.folder, "reset", "-q", "--hard", "HEAD~1")
    head = hand.quantity(6)
    walked.refresh(head)
    assert re.search(rf"\b{gone[:10]}\b", walked.rewritten)
    assert (walked.count(), walked.saved(gone), walked.order_of(head)) == (2, None, 1)


@pytest.mark.parametrize("error", [sqlite3.OperationalError("database is locked"), OSError("full")])
def test_answers_that_cannot_be_kept_are_worked_out_again_and_it_is_logged(
    hand: Hand, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, error: Exception
) -> None:
    past = Past(Git(hand.folder))
    past.refresh(head_of(hand))

    def refuse(*_: object) -> None:
        raise error

    monkeypatch.setattr(index_file, "add", refuse)
    with caplog.at_level("INFO"):
        past.keep({"a": "1"})
    assert str(error) in caplog.text
    assert past.recall("a") == {}
    past.close()


def test_what_was_lost_stays_told_where_the_index_goes_wrong_afterwards(
    hand: Hand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The walk answers from then on; it never knew the tip."""
    gone = hand.quantity(5)
    past = Past(Git(hand.folder))
    past.refresh(gone)
    assert past.count() == 2
    past.close()
    plain_git(hand.folder, "reset", "-q", "--hard", "HEAD~1")
    head = hand.quantity(6)

    def wrong(*_: object) -> None:
        raise KeyError("a fault of ours")

    monkeypatch.setattr(IndexedPast, "life", wrong)
    past.refresh(head)
    assert [step.saved.id for step in past.life(KEY)][1:] == [head]
    assert past.lost == {gone: "little"}
    assert gone[:10] in past.rewritten
    past.close()


def test_a_past_that_was_closed_holds_no_file_and_can_be_asked_again(
    hand: Hand, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed: list[object] = []
    real = IndexedPast.close
    monkeypatch.setattr(IndexedPast, "close", lambda self: (closed.append(self), real(self))[1])
    past = Past(Git(hand.folder))
    past.close()
    assert closed == []
    past.refresh(head_of(hand))
    for n in (1, 2):
        assert past.count() == 1
        past.close()
        assert len(closed) == n
