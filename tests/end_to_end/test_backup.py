"""The box burns; the book comes back from its copy, by the steps that `docs/promises.md` gives."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.book import Book
from tests.mini_book import BUSH, SEAT, plain_git
from tests.shop_floor import Stepping, ink

ADDRESS = "positions.seat.lift"


def worked_in(folder: Path) -> list[str]:
    """Two inks, a run, and a value in pencil; the commits."""
    book = Book.open(folder, login="mira", clock=Stepping())
    commits = [ink(book, SEAT, positions__seat__lift=f"{150 + n}.250").commit for n in range(2)]
    commits.append(book.document(SEAT).runs.start(5).commit)
    book.document(BUSH).pencil.set("lot.quantity", "77")
    book.close()
    return commits


def mirror(folder: Path, place: Path) -> Path:
    """A mirror made before the work and brought up after it."""
    plain_git(place, "clone", "-q", "--mirror", str(folder), "copy.git")
    return place / "copy.git"


def bundle(folder: Path, place: Path) -> Path:
    """Everything in one file."""
    plain_git(folder, "bundle", "create", "-q", str(place / "copy.bundle"), "--all")
    return place / "copy.bundle"


def restored(copy: Path, folder: Path) -> None:
    """As the page says."""
    plain_git(folder.parent, "clone", "-q", str(copy), folder.name)
    plain_git(folder, "remote", "remove", "origin")


@pytest.mark.parametrize("make", [mirror, bundle])
@pytest.mark.parametrize("with_pencil", [True, False])
def test_a_burnt_box_comes_back(
    folder: Path, tmp_path: Path, make: Callable[[Path, Path], Path], with_pencil: bool
) -> None:
    if make is mirror:
        copy = mirror(folder, tmp_path)
        commits = worked_in(folder)
        plain_git(copy, "remote", "update", "--prune")
    else:
        commits = worked_in(folder)
        copy = bundle(folder, tmp_path)
    shutil.copytree(folder / ".git/witnessmark/pencil", tmp_path / "pencil-copy/pencil")
    after = Book.open(folder, login="ole", clock=Stepping())
    late = ink(after, BUSH, jaws__bite="8.5").commit
    after.close()
    files = {p: p.read_bytes() for p in folder.rglob("*.toml") if "bush" not in p.name}
    shutil.rmtree(folder)

    restored(copy, folder)
    if with_pencil:
        (folder / ".git/witnessmark").mkdir()
        shutil.copytree(tmp_path / "pencil-copy/pencil", folder / ".git/witnessmark/pencil")

    book = Book.open(folder, login="mira", clock=Stepping())
    assert [item.commit for item in book.document(SEAT).past.trace(ADDRESS)][1:] == commits[:2]
    assert book.document(SEAT).values()[ADDRESS] == 151.25
    assert {path: path.read_bytes() for path in files} == files
    assert plain_git(folder, "status", "--porcelain") == ""
    draft = book.document(BUSH).pencil.draft()
    assert ([str(m.value) for m in draft.marks] if draft else []) == ["77"] * with_pencil
    assert late not in plain_git(folder, "rev-list", "HEAD"), "what came after the copy is lost"
    done = ink(book, SEAT, lot__quantity="12")
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    book.close()


def test_a_restored_box_meets_the_others_again(folder: Path, tmp_path: Path) -> None:
    plain_git(tmp_path, "clone", "-q", "--bare", str(folder), "hub.git")
    book = Book.open(folder, login="mira", clock=Stepping())
    book.sync(str(tmp_path / "hub.git"))
    copy = mirror(folder, tmp_path)
    shared = ink(book, SEAT, lot__quantity="12").commit
    book.sync()
    book.close()
    shutil.rmtree(folder)

    restored(copy, folder)
    book = Book.open(folder, login="mira", clock=Stepping())
    assert not book.sync(str(tmp_path / "hub.git")).problem
    assert book.head == shared, "what was shared after the copy is there again"
    book.close()
