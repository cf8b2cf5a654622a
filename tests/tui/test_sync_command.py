"""`witnessmark sync` as a pipe sees it: what came, went, is contested and waits; exit statuses."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.mini_book import SEAT, plain_git
from tests.tui.conftest import Command

Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ask(little: Path, tmp_path: Path, command: Command) -> Ask:
    """`ask("one", "mira", "sync")` on one of two boxes that share a bare repository."""
    plain_git(tmp_path, "clone", "-q", "--bare", str(little), "hub.git")
    for name in ("one", "two"):
        plain_git(tmp_path, "clone", "-q", str(tmp_path / "hub.git"), name)
    return lambda box, *words: command(tmp_path / box, *words)


def as_json(answer: tuple[int, str, str]) -> dict[str, Any]:
    data = json.loads(answer[1])
    assert data["format"] == 1
    return dict(data)


def test_a_dispute_from_end_to_end(ask: Ask) -> None:
    for box, login, value in (("two", "ole", "99"), ("one", "mira", "150")):
        assert ask(box, login, "set", SEAT, f"lot.quantity={value}", "--ink")[0] == 0
    assert ask("one", "mira", "set", SEAT, "notes.text=turn it", "--ink")[0] == 0
    sent = as_json(ask("two", "ole", "sync", "--format", "json"))
    assert [item["person"] for item in sent["went"]] == ["ole"]
    done = as_json(ask("one", "mira", "sync", "--format", "json"))
    (item,) = done["contested"]
    assert (item["record"], item["address"], item["shared"], item["aside"]) == (
        SEAT, "lot.quantity", "99", "150",
    )  # fmt: skip
    assert (item["shared_by"]["person"], item["aside_by"]["person"]) == ("ole", "mira")
    assert done["merged"] == done["head"] == done["went"][0]["commit"]
    assert (done["waiting"], done["problem"]) == ([], None)
    status, out, said = ask("two", "ole", "sync")
    assert (status, "notes.text" in out, "Mira Falk" in out) == (0, True, True)
    assert "read values back there" in said
    status, _, said = ask("one", "mira", "ink", SEAT)
    assert (status, "Ole Brandt" in said) == (3, True)
    assert ask("one", "mira", "pencil", SEAT, "--keep")[0] == 0
    assert ask("one", "mira", "ink", SEAT)[0] == 0
    rows = as_json(ask("one", "mira", "trace", SEAT, "lot.quantity", "--format", "json"))["items"]
    assert [row["new"] for row in rows][-1] == "150"


def test_offline_it_answers_3_and_tells_what_waits(ask: Ask, tmp_path: Path) -> None:
    (tmp_path / "hub.git").rename(tmp_path / "away.git")
    assert ask("one", "mira", "set", SEAT, "lot.quantity=5", "--ink")[0] == 0
    status, out, said = ask("one", "mira", "sync", "--format", "json")
    assert status == 3
    assert [item["subject"] for item in json.loads(out)["waiting"]] == [
        f"{SEAT}: lot.quantity: 110 -> 5 (-105)"
    ]
    assert "1 commit waits" in said
    status, out, said = ask("one", "mira", "sync", "--waiting")
    assert (status, "lot.quantity" in out, "1 commit waits" in said) == (0, True, True)
    (tmp_path / "away.git").rename(tmp_path / "hub.git")
    assert ask("one", "mira", "sync")[0] == 0
    assert as_json(ask("one", "mira", "sync", "--waiting", "--format", "json"))["waiting"] == []


def test_wrong_places_and_missing_ones_are_told(ask: Ask, tmp_path: Path) -> None:
    status, _, said = ask("one", "mira", "sync", "--with", "https://host/x.git")
    assert (status, "not by https" in said) == (2, True)
    status, _, said = ask("one", "mira", "sync", "--with", str(tmp_path / "two"))
    assert (status, "own book" in said) == (3, True)


def test_a_rewritten_past_is_refused_with_what_to_do(ask: Ask, tmp_path: Path) -> None:
    assert ask("one", "mira", "set", SEAT, "lot.quantity=5", "--ink")[0] == 0
    assert ask("one", "mira", "sync")[0] == 0
    plain_git(tmp_path / "hub.git", "update-ref", "refs/heads/main", "main~1")
    status, _, said = ask("one", "mira", "sync")
    assert (status, "was rewritten" in said, "--accept-rewritten" in said) == (3, True, True)
    assert ask("one", "mira", "sync", "--accept-rewritten")[0] == 0
