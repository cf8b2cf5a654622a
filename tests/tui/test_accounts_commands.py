"""`who` and `share` as commands, and logins in text."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.book import Book
from tests.mini_book import SEAT, Stepping, plain_git
from tests.shop_floor import ink


def test_who_says_how_somebody_is_known(command, little, monkeypatch):
    monkeypatch.setenv("LOGNAME", "ole")
    status, out, _ = command(little, "mira", "who")
    assert status == 0
    assert out.startswith("Mira Falk (mira): setter\nlogin mira (from the kernel)\n")
    assert "hint: LOGNAME says ole; nothing follows from it" in out
    told = json.loads(command(little, "mira", "who", "--format", "json")[1])
    assert (told["person"], told["login"], told["login_from"]) == ("mira", "mira", "kernel")
    assert {"from": "LOGNAME", "says": "ole"} in told["hints"]
    assert told["may_lead"] is False
    assert "LOGNAME" in command(little, "mira", "who", "--format", "csv")[1]


def test_who_says_what_somebody_unknown_can_do(command, little):
    status, out, _ = command(little, "root", "who")
    assert status == 0
    assert "nobody whom this book knows\nlogin root (from the kernel)" in out
    assert "a lead can add this login" in out
    status, _, err = command(little, "root", "--as", "ole", "who")
    assert status == 3
    assert "nobody's in people.toml, and ole has a login of their own: ole" in err
    status, _, err = command(little, "root", "set", SEAT, "lot.quantity=4")
    assert status == 3
    assert "'root' (from the kernel) is nobody's here" in err


def test_a_variable_does_not_sign_off(command, little, monkeypatch):
    for name in ("LOGNAME", "USER", "SUDO_USER"):
        monkeypatch.setenv(name, "ole")
    assert command(little, "mira", "sign-off", SEAT)[0] == 3
    assert command(little, "mira", "--as", "ole", "sign-off", SEAT)[0] == 3


@pytest.fixture
def box(little):
    """The little book with saves from a login that two people share; its folder."""
    ole = Book.open(little, login="ole", clock=Stepping())
    shared = {"people.mira.logins": "mira, floor", "people.ole.logins": "ole, floor"}
    ole.document("people").pencil.set_all(shared)
    ole.document("people").ink()
    ole.close()
    mira = Book.open(little, login="floor", as_person="mira", clock=Stepping())
    ink(mira, SEAT, lot__quantity="5")
    mira.close()
    return little


@pytest.mark.parametrize(
    "words",
    [("trace", SEAT, "lot.quantity"), ("marks", SEAT), ("history", "--address", "lot.quantity")],
)
def test_text_has_the_login_where_it_is_not_the_persons_own(command, box, words):
    status, out, _ = command(box, "ole", *words)
    assert status == 0
    assert "Mira Falk (login floor)" in out
    assert "Ole Brandt (login" not in out
    assert command(box, "floor", "--as", "mira", "who")[1].count("login floor (from the kernel)")


def test_init_shared_and_share(command, tmp_path: Path):
    folder = tmp_path / "new"
    status, _, err = command(tmp_path, "root", "init", str(folder), "--shared")
    assert status == 0, err
    assert plain_git(folder, "config", "core.sharedRepository").strip() in ("1", "group")
    assert folder.stat().st_mode & 0o7777 == 0o2775
    assert (folder / "people.toml").stat().st_mode & 0o777 == 0o664
    other = tmp_path / "other"
    assert command(tmp_path, "root", "init", str(other), "--shared", "0640")[0] == 0
    assert (other / "people.toml").stat().st_mode & 0o777 == 0o640
    status, _, err = command(tmp_path, "root", "init", str(tmp_path / "x"), "--shared", "friends")
    assert status == 2
    assert "no way to share" in err
    assert not (tmp_path / "x").exists()
    for words, wrong in (
        (("share", str(tmp_path)), "neither a book"),
        (("share", str(folder), "--how", "nobody"), "no way to share"),
        (("share", str(folder), "--group", "no-such-group"), "no group"),
        (("share", str(tmp_path / "nothing")), "neither a book"),
    ):
        status, _, err = command(tmp_path, "root", *words)
        assert status == 2
        assert wrong in err
