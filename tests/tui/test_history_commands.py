"""The commands on the book's past, as a pipe sees them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from engine.book import Book
from tests.mini_book import SEAT
from tests.shop_floor import Clock, ink, plain_git
from tests.tui.conftest import Command

Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ask(little: Path, command: Command) -> Ask:
    """`ask("history")`: exit status, standard output, standard error, after two inks."""
    call = partial(command, little, "mira")
    call("set", SEAT, "jaws.bite=7.7", "--ink", "--reason", "=1+1 worn")
    call("set", SEAT, "lot.quantity=50", "--ink")
    return call


def test_history_in_all_forms(ask: Ask) -> None:
    status, out, err = ask("history", "--per-page", "2")
    assert status == 0
    assert [line.split()[0] for line in out.splitlines()] == ["record", SEAT, SEAT]
    assert "--page 2" in err
    data = json.loads(ask("history", "--record", SEAT, "--person", "mira", "--format", "json")[1])
    assert (data["page"], data["more"]) == (1, False)
    assert [item["address"] for item in data["items"]] == ["lot.quantity", "jaws.bite"]
    assert "nothing was changed" in ask("history", "--person", "nobody")[2]


def test_what_stood_and_what_moved(ask: Ask) -> None:
    status, out, _ = ask("stood", "jaws.bite", "--above", "7.6", "--on", "today")
    assert (status, SEAT in out) == (0, True)
    assert ask("stood", "jaws.bite", "--above", "7,6", "--on", "today")[0] == 2
    assert ask("stood", "jaws.bite", "--above", "7", "--ran", "--on", "today")[1] == ""
    items = json.loads(ask("moved", "--no-reason", "--format", "json")[1])["items"]
    assert [item["address"] for item in items] == ["lot.quantity"]
    assert "three runs" in ask("creep", SEAT)[2]


def test_a_spreadsheet_gets_no_formula(ask: Ask) -> None:
    rows = list(csv.DictReader(io.StringIO(ask("export-history")[1])))
    assert rows[0]["address"] == "lot.quantity"
    assert rows[1]["reason"] == "'=1+1 worn"
    data = json.loads(ask("export-history", "--format", "json", "--record", SEAT)[1])
    assert data["format"] == 1
    assert data["items"][1]["reason"] == "=1+1 worn"
    assert data["items"][0]["person"] == "mira"


@pytest.fixture
def box(little: Path) -> Iterator[tuple[Book, Clock]]:
    """The little book with a clock that the test moves, a year ago."""
    clock = Clock(datetime.fromisoformat("2025-03-02T06:00:00+01:00"))
    book = Book.open(little, login="ole", clock=clock)
    yield book, clock
    book.close()


def test_a_stamp_that_runs_backwards_is_said_with_every_answer(
    box: tuple[Book, Clock], little: Path, command: Command
) -> None:
    book, clock = box
    for days in (400, 403, 400.1):  # after the book was begun
        clock.at = datetime.fromisoformat("2025-03-02T06:00:00+01:00") + timedelta(days=days)
        ink(book, SEAT, lot__quantity=str(round(days * 10)))
    call = partial(command, little, "ole")
    since = ("--since", "2026-04-08T12:00:00+02:00")
    status, out, err = call("diff", SEAT, *since)
    assert (status, "lot.quantity" in out) == (1, True)
    assert "1 stamp runs backwards: save" in err
    told = json.loads(call("diff", SEAT, *since, "--format", "json")[1])
    assert told["clocks"]["backwards"] == 1
    assert told["clocks"]["last"][0]["commit"] == book.head
    for words in (("history",), ("moved",), ("export-history",)):
        status, out, err = call(*words, *since, "--format", "json")
        assert (status, "runs backwards" in err) == (0, True), words
        assert json.loads(out)["clocks"]["backwards"] == 1, words
    told = json.loads(call("history", "--format", "json")[1])
    assert told["clocks"] is None, "no moment was asked for"


def test_what_a_merge_decided_is_told_in_all_forms(
    box: tuple[Book, Clock], little: Path, command: Command
) -> None:
    book, _ = box
    plain_git(little, "switch", "-qc", "side")
    ink(book, SEAT, lot__quantity="99")
    plain_git(little, "switch", "-q", "main")
    book.refresh()
    ink(book, SEAT, lot__quantity="150")
    plain_git(little, "merge", "-q", "-s", "ours", "-m", "Merge side", "side")
    call = partial(command, little, "ole")
    out = call("trace", SEAT, "lot.quantity")[1].splitlines()
    assert "merged: kept 150 of Ole Brandt, against 99 of Ole Brandt" in out[-1]
    item = json.loads(call("trace", SEAT, "lot.quantity", "--format", "json")[1])["items"][-1]
    assert (item["old"], item["new"], item["verified"]) == ("99", "150", False)
    assert item["merged"]["kept_by"]["person"] == "ole"
    rows = list(csv.DictReader(io.StringIO(call("export-history", "--record", SEAT)[1])))
    assert (rows[0]["merged"], rows[0]["kept_by"], rows[1]["merged"]) == ("true", "ole", "false")
    assert call("marks", SEAT)[1].splitlines()[1].split()[0] == item["commit"][:10]
