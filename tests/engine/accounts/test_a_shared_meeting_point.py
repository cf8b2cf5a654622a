"""Two accounts, each with a book of their own, meet in a bare repository."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from tests.mini_book import SEAT, plain_git

from .conftest import ANNA, BEN, SHOP, Accounts
from .test_a_shared_book import MASKS, closed_to_the_group


def _meet(accounts: Accounts, *, shared: bool) -> Path:
    """Anna makes the meeting point and sends her book; Ben has a clone of it."""
    accounts.found()
    bare = accounts.place / "line" / "meet.git"
    words = ["--shared=group"] if shared else []

    def make() -> None:
        plain_git(bare.parent, "init", "-q", "--bare", "--initial-branch=main", *words, str(bare))

    accounts.by(ANNA, make)
    assert accounts.ask(BEN, "trust", str(bare))[0] == 0
    accounts.done(ANNA, "sync", "--with", str(bare))

    def clone() -> None:
        trusting = "git -c safe.directory=* upload-pack"
        words = ("-c", "safe.directory=*", "clone", "-q", "-u", trusting)
        plain_git(bare.parent, *words, str(bare), _bens(accounts))

    accounts.by(BEN, clone)
    return bare


def _bens(accounts: Accounts) -> str:
    return str(accounts.home(BEN) / "book")


def _ben(accounts: Accounts, *words: str) -> tuple[int, str, str]:
    return accounts.ask(BEN, "--book", _bens(accounts), *words)


@pytest.mark.parametrize("mask", MASKS, ids=oct)
def test_both_send_and_take_in(accounts: Accounts, mask: int) -> None:
    accounts.mask = mask
    bare = _meet(accounts, shared=True)
    for number in range(3, 6):
        assert _ben(accounts, "set", SEAT, f"lot.quantity={number}", "--ink")[0] == 0
        assert _ben(accounts, "sync")[0] == 0
        accounts.done(ANNA, "set", SEAT, f"lot.samples={number}", "--ink")
        status, _, err = accounts.on(ANNA, "sync")
        assert status == 0, err
    assert _ben(accounts, "sync")[0] == 0
    assert closed_to_the_group(bare) == []
    heads = {plain_git(place, "-c", "safe.directory=*", "rev-parse", "main")
             for place in (bare, accounts.book, Path(_bens(accounts)))}  # fmt: skip
    assert len(heads) == 1


def test_one_that_is_not_shared_says_so_and_its_owner_shares_it(accounts: Accounts) -> None:
    bare = _meet(accounts, shared=False)
    assert _ben(accounts, "set", SEAT, "lot.quantity=4", "--ink")[0] == 0
    status, _, err = _ben(accounts, "sync")
    assert status != 0
    assert "the meeting point is not shared" in err
    assert f"ole can run `witnessmark share {bare} --group GROUP`" in err
    assert accounts.ask(ANNA, "share", str(bare), "--group", str(SHOP))[0] == 0
    assert _ben(accounts, "sync")[0] == 0
    assert closed_to_the_group(bare) == []


def test_one_that_cannot_be_read_is_not_to_be_made_anew(accounts: Accounts) -> None:
    bare = _meet(accounts, shared=True)
    for path in (bare, bare / "objects", bare / "HEAD", bare / "refs/heads/main"):
        mode = path.stat().st_mode
        path.chmod(0o700)
        status, _, err = _ben(accounts, "sync")
        path.chmod(mode & 0o7777)
        assert status in (2, 3)
        assert "may not read" in err
        assert "init" not in err
    assert _ben(accounts, "sync")[0] == 0


LEFT = ["refs/heads/main.lock", "HEAD.lock", "packed-refs.lock"]


@pytest.mark.parametrize("name", LEFT)
def test_a_lock_that_was_left_there_blocks_nobody_for_ever(accounts: Accounts, name: str) -> None:
    bare = _meet(accounts, shared=True)
    lock = bare / name
    accounts.by(ANNA, lambda: lock.write_text(""))
    assert _ben(accounts, "set", SEAT, "lot.quantity=4", "--ink")[0] == 0
    status, _, err = _ben(accounts, "sync")
    if status:
        assert "a lock was left at the meeting point, 0 min ago by ole" in err
        assert str(lock) in err
        assert lock.exists()
    old = time.time() - 700
    os.utime(lock, (old, old)) if lock.exists() else None
    status, _, err = _ben(accounts, "sync")
    assert status == 0, err
    at = plain_git(bare, "-c", "safe.directory=*", "rev-parse", "main")
    assert at == plain_git(Path(_bens(accounts)), "-c", "safe.directory=*", "rev-parse", "main")
    if name == LEFT[0]:
        assert not lock.exists()
        (aside,) = (bare / "witnessmark/aside").iterdir()
        assert aside.name.endswith("refs-heads-main.lock")
