"""The commands on the book's past, as a pipe sees them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from tests.mini_book import SEAT
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
