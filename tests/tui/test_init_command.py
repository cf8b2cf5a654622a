"""`init`: by any path that leads to a folder, and a plain answer where none can be made."""

import os
from pathlib import Path

import pytest

from tests.mini_book import plain_git
from tests.tui.conftest import Command


@pytest.mark.parametrize("path", ["new", "./new", "a/../new", "deep/er/new", "new/"])
def test_a_relative_path_is_one(tmp_path: Path, monkeypatch, command: Command, path: str) -> None:
    (tmp_path / "a").mkdir()
    monkeypatch.chdir(tmp_path)
    status, out, said = command(tmp_path, "mira", "init", path)
    assert (status, out) == (0, ""), said
    assert "begins in" in said
    assert (tmp_path / path / ".git").is_dir()
    assert command(Path(path), "mira", "list")[0] == 0
    assert plain_git(tmp_path / path, "status", "--porcelain") == ""


def test_this_folder_and_one_above(tmp_path: Path, monkeypatch, command: Command) -> None:
    here, other = tmp_path / "here", tmp_path / "other"
    here.mkdir()
    monkeypatch.chdir(here)
    assert command(here, "mira", "init", ".")[0] == 0
    assert (here / ".git").is_dir()
    assert command(here, "mira", "init", "../other")[0] == 0
    assert (other / ".git").is_dir()


def _loop(folder: Path) -> Path:
    (folder / "one").symlink_to(folder / "two")
    (folder / "two").symlink_to(folder / "one")
    return folder / "one"


def _file(folder: Path) -> Path:
    (folder / "file").write_text("mine")
    return folder / "file"


def _below_a_file(folder: Path) -> Path:
    return _file(folder) / "new"


def _fifo(folder: Path) -> Path:
    os.mkfifo(folder / "pipe")
    return folder / "pipe"


def _inside(folder: Path) -> Path:
    plain_git(folder, "init", "-q", ".")
    return folder / ".git" / "new"


def _bare(folder: Path) -> Path:
    plain_git(folder, "init", "-q", "--bare", "meet.git")
    return folder / "meet.git"


def _link_within(folder: Path) -> Path:
    (folder / "secret").mkdir()
    (folder / "secret" / "mine.toml").write_text("x")
    (folder / "new").mkdir()
    (folder / "new" / "records").symlink_to(folder / "secret")
    return folder / "new"


def _pipe_within(folder: Path) -> Path:
    (folder / "new" / "records").mkdir(parents=True)
    os.mkfifo(folder / "new" / "records" / "x.toml")
    return folder / "new"


@pytest.mark.parametrize(
    "make", [_loop, _file, _below_a_file, _fifo, _inside, _bare, _link_within, _pipe_within]
)
def test_where_no_book_can_begin_it_says_why(tmp_path: Path, command: Command, make) -> None:
    target = make(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    status, out, said = command(tmp_path, "mira", "init", str(target))
    assert (status, out) == (2, "")
    assert "unexpected" not in said
    assert said.count("\n") >= 2  # what is wrong, and what to do
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(os.getuid() == 0, reason="rights do not hold back the superuser")
def test_a_folder_without_rights(tmp_path: Path, command: Command) -> None:
    (tmp_path / "shut").mkdir(mode=0o500)
    for path in ("shut", "shut/new"):
        status, _, said = command(tmp_path, "mira", "init", str(tmp_path / path))
        assert (status, "unexpected" in said) == (3, False)


def test_a_book_in_a_book_is_refused_and_one_in_another_repository_is_not(
    little: Path, tmp_path: Path, command: Command
) -> None:
    status, _, said = command(little, "mira", "init", str(little / "records" / "new"))
    assert status == 2
    assert "lies in the book" in said
    other = tmp_path / "other"
    other.mkdir()
    plain_git(other, "init", "-q", ".")
    assert command(other, "mira", "init", str(other / "book"))[0] == 0
    assert command(other, "mira", "init", str(little))[0] == 2
