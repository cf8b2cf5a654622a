"""`witnessmark upgrade`: shows first, does it with --ink, and says when there is nothing to do."""

from __future__ import annotations

import json

import pytest

from tests.shop_floor import log_in
from tui.commands.frame import run
from tui.main import witnessmark


@pytest.fixture
def ask(old_book, capsys, monkeypatch):
    """`ask("vera", "upgrade")`: exit status, standard output, standard error."""

    def call(login, *words):
        log_in(monkeypatch, login)
        status = run(witnessmark, ["--book", str(old_book), *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return call


def test_it_shows_then_does_then_has_nothing_to_do(ask):
    status, out, err = ask("vera", "upgrade")
    assert status == 0
    assert "records/cap-op10.toml: format 1 -> 2; jaws.place is jaws.kept_at now" in out
    assert "Nothing was written. `witnessmark upgrade --ink` does it in one commit." in err
    status, _, err = ask("vera", "upgrade", "--ink")
    assert status == 3
    assert "no lead" in err
    data = json.loads(ask("noor", "upgrade", "--ink", "--format", "json")[1])
    assert len(data["commit"]) == 40
    first = data["files"][0]
    assert (first["path"], first["from"], first["to"]) == (
        "records/cap-op10.toml", 1, 2,
    )  # fmt: skip
    assert data["files"][0]["addresses"][0] == {"from": "jaws.place", "to": "jaws.kept_at"}
    status, out, err = ask("noor", "upgrade")
    assert (status, out) == (0, "")
    assert "every file has the present format" in err


def test_an_old_address_is_understood_by_the_commands(ask):
    assert "cupboard 9" in ask("vera", "trace", "cap-op10", "jaws.place")[1]
    assert "jaws.kept_at" in ask("vera", "set", "cap-op10", "jaws.place=cupboard 4")[1]
    assert ask("vera", "set", "cap-op10", "tray.place=")[0] == 0
    assert "hook 3" in ask("vera", "history", "--address", "fingers.*.place")[1]
    assert "cupboard 4" in ask("vera", "diff", "cap-op10")[1]
