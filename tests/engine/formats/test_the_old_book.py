"""The kept book of format 1: what it said when it was made, it says with every later program."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.book import Book
from tests.mini_book import Stepping, plain_git

CAP, LONG, SHORT = "cap-op10", "sleeve-long-op20", "cap-short-op10"
HEAD = "4c03a89beb09b6f958645bac4da8a33ad0923591"


@pytest.fixture
def book(old_book: Path) -> Iterator[Book]:
    """The old book with its setter in front of it."""
    opened = Book.open(old_book, login="vera", clock=Stepping())
    yield opened
    opened.close()


def test_its_commits_are_the_ones_that_were_made(book, old_book):
    assert book.head == HEAD
    assert plain_git(old_book, "fsck", "--full", "--strict") == ""
    assert plain_git(old_book, "status", "--porcelain") == ""


def test_its_list_says_what_it_said(book):
    listed = {item.record: item for item in book.list_records(findings=False)}
    assert list(listed) == [CAP, SHORT, LONG]
    assert [item.signed_off for item in listed.values()] == ["void", "no", "yes"]
    assert [item.changed_since_run for item in listed.values()] == [6, None, None]
    assert [bool(item.confirmed and item.confirmed.still) for item in listed.values()] == [
        False, False, True,
    ]  # fmt: skip
    assert [(r.number, r.good, r.scrap) for r in book.document(CAP).runs.all()] == [(1, 83, 4)]
    assert [r.stopped for r in book.document(LONG).runs.all()] == [None]
    assert not [item.problems for item in listed.values() if item.problems]
