"""Two accounts on one book, whatever their masks: nobody is locked out, nothing is lost."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from tests.mini_book import BUSH, SEAT, plain_git

from .conftest import ANNA, BEN, SHOP, STRANGER, Accounts

MASKS = [0o022, 0o002, 0o027, 0o077]


def closed_to_the_group(folder: Path) -> list[str]:
    """What the group of a shared book could not use."""
    found = []
    for path in [folder, *folder.rglob("*")]:
        mode = path.lstat().st_mode
        wanted = 0o2070 if stat.S_ISDIR(mode) else 0o040 if mode & 0o222 == 0 else 0o060
        if mode & wanted != wanted or path.lstat().st_gid != SHOP:
            found.append(f"{path.relative_to(folder)} {stat.filemode(mode)} {path.stat().st_gid}")
    return found


def a_day(accounts: Accounts, one: int, other: int) -> None:
    """Both do what people do: pencil, ink, a run, a photo, a new record, a copy, a lock left."""
    for who, name, value in ((one, SEAT, "8.1"), (other, BUSH, "8.2"), (one, BUSH, "8.3")):
        accounts.done(who, "set", name, f"jaws.bite={value}")
        accounts.done(who, "ink", name, "--reason", "measured")
    for who, name, value in ((other, SEAT, "5"), (one, SEAT, "6"), (other, BUSH, "7")):
        accounts.done(who, "set", name, f"lot.quantity={value}", "--ink")
    accounts.done(other, "run", "start", SEAT)
    accounts.done(one, "run", "stop", SEAT, "--good", "1", "--scrap", "0")
    accounts.done(one, "copy", SEAT, "fresh-op10")
    accounts.done(other, "set", "fresh-op10", "lot.quantity=9", "--ink")
    accounts.done(other, "rename", "fresh-op10", "fresher-op10")
    accounts.done(ANNA, "sign-off", SEAT)
    accounts.done(one, "restore", SEAT, "ink-1", "lot", "--reason", "back")


@pytest.mark.parametrize("mask", MASKS, ids=oct)
@pytest.mark.parametrize("first", [ANNA, BEN], ids=["owner first", "other first"])
def test_both_work_whatever_their_mask(accounts: Accounts, mask: int, first: int) -> None:
    accounts.mask = mask
    folder = accounts.found()
    a_day(accounts, first, BEN if first == ANNA else ANNA)
    assert closed_to_the_group(folder) == []
    assert plain_git(folder, "-c", "safe.directory=*", "status", "--porcelain") == ""
    assert plain_git(folder, "-c", "safe.directory=*", "fsck", "--strict") == ""
    findings = json.loads(accounts.on(BEN, "check", "--format", "json")[1])["items"]
    assert not [f for f in findings if f["rule"].startswith("save-")]


@pytest.mark.parametrize("masks", [(0o077, 0o022), (0o022, 0o077)], ids=str)
def test_the_mask_of_each_is_their_own(accounts: Accounts, masks: tuple[int, int]) -> None:
    folder = accounts.found(mask=masks[0])
    for who, mask in ((ANNA, masks[0]), (BEN, masks[1])):
        accounts.done(who, "set", SEAT, "lot.quantity=4", mask=mask)
        accounts.done(who, "ink", SEAT, mask=mask)
        accounts.done(who, "set", SEAT, "lot.quantity=3", "--ink", mask=mask)
    assert closed_to_the_group(folder) == []


def test_pencil_is_seen_by_the_other(accounts: Accounts) -> None:
    accounts.mask = 0o077
    accounts.found()
    accounts.done(ANNA, "set", SEAT, "jaws.bite=8.1")
    accounts.done(BEN, "set", SEAT, "jaws.clamp_pressure=19")
    for reader in (ANNA, BEN):
        seen = json.loads(accounts.on(reader, "pencil", "--format", "json")[1])["items"]
        assert {item["who"]["person"]: item["new"] for item in seen} == {"ole": "8.1", "mira": "19"}
    said = accounts.done(BEN, "list")
    assert "Ole" in said
    assert "Mira" in said


@pytest.mark.parametrize(
    ("shared", "file", "folder"),
    [
        ("group", 0o660, 0o2770),
        ("all", 0o664, 0o2775),
        ("0640", 0o640, 0o2750),
        ("0660", 0o660, 0o2770),
    ],
)
def test_rights_are_those_of_the_setting(
    accounts: Accounts, shared: str, file: int, folder: int
) -> None:
    accounts.mask = 0o077
    book = accounts.found(shared=shared)
    accounts.done(ANNA, "set", SEAT, "jaws.bite=8.1")
    accounts.done(ANNA, "ink", SEAT, "--reason", "x")
    accounts.done(ANNA, "copy", SEAT, "fresh-op10")
    for path in [book, *book.rglob("*")]:
        mode = path.lstat().st_mode
        wanted = folder if stat.S_ISDIR(mode) else file & (mode | ~0o222)
        assert stat.S_IMODE(mode) == wanted, path


def test_what_git_makes_has_the_same_rights(accounts: Accounts) -> None:
    """The oracle: git itself, told the same, under each mask."""
    for shared in ("group", "all", "0640", "0600"):
        for mask in MASKS:
            book = accounts.place / "line" / f"{shared}-{mask:o}"

            def work(book: Path = book, shared: str = shared) -> dict[str, int]:
                from engine.repo.git import Git, create

                book.mkdir()
                create(book, shared)
                git = Git(book)
                ours = book / ".git/objects" / git.write_blob(b"ours")[:2]
                plain_git(book, "hash-object", "-w", "--stdin", data=b"theirs")
                found = {}
                for path in (book / ".git/objects").glob("??"):
                    kind = "ours" if path == ours else "theirs"
                    found[kind] = path.stat().st_mode
                    found[f"{kind} file"] = next(path.iterdir()).stat().st_mode
                git.close()
                return found

            found = accounts.by(ANNA, work, mask)
            assert found["ours"] == found["theirs"], (shared, oct(mask))
            assert found["ours file"] == found["theirs file"], (shared, oct(mask))


# a book that is not shared


@pytest.mark.parametrize("mask", [0o022, 0o002])
def test_a_book_that_is_not_shared_says_so(accounts: Accounts, mask: int) -> None:
    accounts.mask = mask
    folder = accounts.found(shared="")
    (folder.parent).chmod(0o755)
    accounts.done(ANNA, "set", SEAT, "jaws.bite=8.1")
    before = sorted(folder.rglob("*"))
    acts = (
        ("set", SEAT, "lot.quantity=4"),
        ("ink", SEAT, "--reason", "x"),
        ("run", "start", SEAT),
        ("copy", SEAT, "fresh-op10"),
        ("event", "lathe", "crash", "--reason", "x"),
    )
    for words in acts:
        status, _, err = accounts.on(BEN, *words)
        if words[0] == "ink":
            continue  # nothing is in pencil
        assert status == 3, err
        assert "not shared" in err
        assert "mira may not write" in err
        assert f"ole can run `witnessmark share {folder} --group GROUP`" in err
        assert "init" not in err
    assert sorted(folder.rglob("*")) == before
    assert "seat-op10" in accounts.done(BEN, "list")
    assert "8.1" in accounts.done(ANNA, "pencil")


def test_its_owner_shares_it_and_both_go_on(accounts: Accounts) -> None:
    accounts.mask = 0o077
    folder = accounts.found(shared="")
    accounts.done(ANNA, "set", SEAT, "lot.quantity=4", "--ink")
    accounts.done(ANNA, "set", SEAT, "jaws.bite=8.1")
    status, _, err = accounts.ask(BEN, "share", str(folder), "--group", str(SHOP))
    assert status in (2, 3), err
    status, _, err = accounts.ask(ANNA, "share", str(folder), "--group", str(SHOP))
    assert (status, "is shared (group) with the group shop" in err) == (0, True), err
    assert closed_to_the_group(folder) == []
    a_day(accounts, BEN, ANNA)
    assert closed_to_the_group(folder) == []
    assert accounts.ask(ANNA, "share", str(folder))[0] == 0
    assert accounts.on(ANNA, "check")[0] in (0, 1)


def test_what_belongs_to_others_is_named(accounts: Accounts) -> None:
    folder = accounts.found()
    accounts.done(BEN, "set", SEAT, "lot.quantity=4", "--ink")
    (folder / f"records/{SEAT}.toml").chmod(0o600)
    status, out, err = accounts.ask(ANNA, "share", str(folder), "--format", "json")
    left = json.loads(out)["left"]
    assert (status, left) == (1, [[f"records/{SEAT}.toml", "mira"]])
    assert "belongs to mira" in err
    assert accounts.ask(BEN, "share", str(folder))[0] == 3
    status, _, err = accounts.on(ANNA, "set", SEAT, "lot.quantity=5", "--ink")
    assert status in (2, 3)
    assert "rights" in err


def test_nobody_else_shares_it(accounts: Accounts) -> None:
    folder = accounts.found()
    for who in (BEN, STRANGER):
        status, _, err = accounts.ask(who, "share", str(folder))
        assert status in (2, 3)
        assert "ole" in err


# a book that cannot be read


def _close(folder: Path, path: str) -> None:
    (folder / path).chmod(0)


HIDDEN = [
    "", ".git", ".git/HEAD", ".git/config", ".git/objects", ".git/refs", ".git/refs/heads",
    ".git/refs/heads/main",
]  # fmt: skip


@pytest.mark.parametrize("path", HIDDEN)
@pytest.mark.parametrize("words", [("list",), ("check",), ("set", SEAT, "lot.quantity=4")])
def test_a_book_that_cannot_be_read_says_so(
    accounts: Accounts, path: str, words: tuple[str, ...]
) -> None:
    folder = accounts.found()
    hidden = folder / path
    hidden.chmod(0o700 if hidden.is_dir() else 0o600)
    status, _, err = accounts.on(BEN, *words)
    assert status == 2, err
    assert "account mira may not read" in err
    assert str(hidden) in err
    assert "belongs to ole" in err
    assert "init" not in err
    assert "The book is there" in err


def test_one_save_under_a_closed_mask_does_not_hide_the_book(accounts: Accounts) -> None:
    folder = accounts.found(shared="")
    accounts.done(ANNA, "set", SEAT, "lot.quantity=4", "--ink", mask=0o077)
    for words in (("list",), ("trace", SEAT, "lot.quantity"), ("show", SEAT)):
        status, _, err = accounts.on(BEN, *words)
        assert status == 2
        assert "may not read" in err
        assert "init" not in err
        assert str(folder / ".git") in err


def test_an_object_that_cannot_be_read_is_not_missing(accounts: Accounts) -> None:
    folder = accounts.found()
    blob = plain_git(folder, "-c", "safe.directory=*", "rev-parse", f"HEAD:records/{SEAT}.toml")
    file = folder / ".git/objects" / blob[:2] / blob.strip()[2:]
    file.chmod(0)
    status, _, err = accounts.on(BEN, "show", SEAT)
    assert status == 2
    assert "may not read" in err
    assert str(file) in err


def test_a_folder_above_it_that_lets_nobody_through(accounts: Accounts) -> None:
    folder = accounts.found()
    folder.parent.chmod(0o700)
    status, _, err = accounts.on(BEN, "list")
    assert status == 2
    assert "may not read" in err
    assert str(folder.parent) in err
    assert "init" not in err
    status, _, err = accounts.ask(ANNA, "share", str(folder))
    assert "does not come through" in err


def test_init_where_nothing_may_be_made(accounts: Accounts) -> None:
    folder = accounts.found()
    folder.parent.chmod(0o755)
    status, _, err = accounts.ask(STRANGER, "init", str(folder.parent / "other"))
    assert status == 3
    assert "stranger may not make" in err
    folder.chmod(0o700)
    status, _, err = accounts.ask(STRANGER, "init", str(folder))
    assert status == 2
    assert "may not read" in err


# who they are


def test_accounts_without_a_name_are_called_by_their_number(accounts: Accounts) -> None:
    folder = accounts.found()
    accounts.names = {}
    said = accounts.done(BEN, "who")
    assert f"login number {BEN} (from the kernel)" in said
    status, _, err = accounts.on(BEN, "set", SEAT, "lot.quantity=4")
    assert status == 3
    assert f"number {BEN}" in err
    accounts.names = {ANNA: "ole"}
    logins = f"people.mira.logins=mira, number {BEN}"
    accounts.done(ANNA, "set", "people", logins, "--ink", "--reason", "container")
    accounts.names = {}
    accounts.done(BEN, "set", SEAT, "lot.quantity=4", "--ink")
    traced = json.loads(accounts.on(BEN, "trace", SEAT, "lot.quantity", "--format", "json")[1])
    assert traced["items"][-1]["who"]["login"] == f"number {BEN}"
    folder.chmod(0o700)
    assert f"belongs to number {ANNA}" in accounts.on(BEN, "list")[2]


def test_a_home_that_is_not_there_or_anothers_stops_nobody(accounts: Accounts) -> None:
    accounts.found()

    def work(home: str) -> tuple[int, str]:
        from tests.tui.conftest import run, witnessmark

        for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"):
            os.environ.pop(name)
        os.environ.pop("HOME")
        if home:
            os.environ["HOME"] = home
        return run(witnessmark, ["--book", str(accounts.book), "list"]), ""

    anna = str(accounts.home(ANNA))
    for home in ("", anna):
        assert accounts.by(ANNA, lambda home=home: work(home))[0] == 0  # type: ignore[misc]
    assert accounts.by(BEN, lambda: work(anna))[0] == 2  # its trust is not Ben's, and said so


def test_pencil_that_cannot_be_read_is_told_and_hides_nothing_else(accounts: Accounts) -> None:
    folder = accounts.found()
    accounts.done(ANNA, "set", SEAT, "jaws.bite=8.1")
    accounts.done(BEN, "set", SEAT, "lot.quantity=4")
    pencil = folder / ".git/witnessmark/pencil"
    for closed in (next((pencil / "ole").iterdir()), pencil / "ole"):
        closed.chmod(0o700)
        for words in (("list",), ("pencil",), ("check",), ("ink", SEAT)):
            said = accounts.done(BEN, *words)
            assert "the pencil of Ole Brandt cannot be read by the account mira" in said
        accounts.done(BEN, "set", SEAT, "lot.quantity=5")
    accounts.done(ANNA, "share", str(folder))
    assert "8.1" in accounts.done(BEN, "pencil")


def test_a_note_of_a_save_that_may_not_be_read_is_told_and_left(accounts: Accounts) -> None:
    """It may be all that is known of an unfinished save: nobody takes it for nonsense."""
    folder = accounts.found()
    note = folder / ".git/witnessmark/intent.json"
    note.write_bytes(b"{}")
    note.chmod(0o600)
    said = accounts.done(BEN, "list")
    assert "a save was left unfinished" in said
    assert str(note) in said
    status, _, err = accounts.on(BEN, "set", SEAT, "lot.quantity=4", "--ink")
    assert status == 3
    assert str(note) in err
    assert note.read_bytes() == b"{}"


def test_a_book_that_every_account_can_write_to_is_told(accounts: Accounts) -> None:
    folder = accounts.found(shared="")
    for path in (folder, folder / ".git", folder / ".git/refs/heads"):
        mode = path.stat().st_mode
        path.chmod(0o777)
        assert f"chmod -R o-w {folder}" in accounts.done(ANNA, "list")
        assert "open-to-all" in accounts.done(ANNA, "check")
        path.chmod(mode & 0o7777)
    folder.chmod(0o1777)
    assert "chmod" not in accounts.done(ANNA, "list")
    (folder / ".git/objects").chmod(0o777)
    assert accounts.ask(ANNA, "share", str(folder), "--group", str(SHOP))[0] == 0
    assert "chmod" not in accounts.done(ANNA, "list")
