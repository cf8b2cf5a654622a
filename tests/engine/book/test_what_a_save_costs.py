"""What one save costs, counted: gits, flushes, names that are written again."""

import os
import shutil
import threading
import time
from pathlib import Path

import pytest

from engine.repo.durable import Put, put_all_in_place
from engine.repo.git import Git
from engine.repo.git_index import GitIndex, _entries_of
from tests.mini_book import session_of
from tests.shop_floor import plain_git


def _puts(folder: Path) -> list[Put]:
    return [Put(folder / name, name.encode(), folder / f"draft-{name}") for name in ("one", "two")]


def test_no_file_gets_its_name_before_the_bytes_of_all_are_flushed(tmp_path, monkeypatch):
    done: list[str] = []
    flush, rename = os.fsync, Path.replace

    def flushed(handle: int) -> None:
        done.append(Path(f"/proc/self/fd/{handle}").readlink().name)
        flush(handle)

    def renamed(self: Path, target: Path) -> Path:
        done.append(f"-> {target.name}")
        return rename(self, target)

    monkeypatch.setattr(os, "fsync", flushed)
    monkeypatch.setattr(Path, "replace", renamed)
    put_all_in_place(_puts(tmp_path))
    assert sorted(done[:2]) == ["draft-one", "draft-two"]
    assert done[2:] == ["-> one", "-> two", tmp_path.name]  # the folder once, for both names
    assert (tmp_path / "two").read_bytes() == b"two"


def test_where_one_is_refused_none_gets_its_name(tmp_path, monkeypatch):
    flush = os.fsync

    def full(handle: int) -> None:
        if Path(f"/proc/self/fd/{handle}").readlink().name == "draft-two":
            raise OSError(28, "No space left on device")
        flush(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        put_all_in_place(_puts(tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_a_save_starts_three_gits_and_writes_the_names_of_few(at, monkeypatch):
    mira = at("mira")
    record = mira.document("seat-op10")
    record.pencil.set("lot.quantity", "50")
    record.ink()
    past = session_of(mira).past
    before = past.recall("keys/")
    record.pencil.set("lot.quantity", "51")
    started, start = [], Git.start

    def counted(self, words, *args, **named):
        started.append(words[0])
        return start(self, words, *args, **named)

    monkeypatch.setattr(Git, "start", counted)
    record.ink()
    assert sorted(started) == ["ls-files", "update-index", "update-ref"]
    assert record.values()["lot.quantity"] == 51
    mira.list_records(findings=False)
    after = past.recall("keys/")
    assert sum(before.get(name) != text for name, text in after.items()) == 1


def test_the_next_index_is_made_while_the_branch_moves_and_only_then(at, folder, monkeypatch):
    """What was prepared for a save that did not come is taken away again."""
    mira = at("mira")
    mira.document("seat-op10").pencil.set("lot.quantity", "50")

    class Died(Exception):
        pass

    def dies(*_: object) -> bool:
        raise Died

    index = (folder / ".git/index").read_bytes()
    with monkeypatch.context() as failing:
        failing.setattr(Git, "move", dies)
        with pytest.raises(Died):
            mira.document("seat-op10").ink()
    assert (folder / ".git/index").read_bytes() == index
    assert list((folder / ".git/witnessmark").glob("tree-*")) == []
    assert not (folder / ".git/index.lock").exists()
    mira.document("seat-op10").ink()
    assert mira.document("seat-op10").values()["lot.quantity"] == 50


def test_the_next_index_that_is_being_made_is_nobodys_left_over(at, folder, monkeypatch):
    """Else git would begin an empty one, and a commit by hand take out every file."""
    mira = at("mira")
    record = mira.document("seat-op10")
    record.pencil.set("lot.quantity", "50")
    record.ink()
    record.pencil.set("lot.quantity", "51")
    looked = threading.Event()
    made, forget = GitIndex._made, GitIndex.forget_drafts

    def slow(self, *args):
        looked.wait(10)
        return made(self, *args)

    def forget_later(self):
        held_back, glob = self._at_work, Path.glob

        def late(folder: Path, pattern: str):  # the copy comes to be just before the look for it
            looked.set()
            end = time.monotonic() + 10
            while held_back and not list(glob(folder, "tree-*")) and time.monotonic() < end:
                time.sleep(0.001)
            return glob(folder, pattern)

        with monkeypatch.context() as patched:
            patched.setattr(Path, "glob", late)
            forget(self)

    monkeypatch.setattr(GitIndex, "_made", slow)
    monkeypatch.setattr(GitIndex, "forget_drafts", forget_later)
    record.ink()
    assert plain_git(folder, "status", "--porcelain") == ""


def test_an_index_that_lost_its_entries_is_not_put_in_place(at, folder, monkeypatch):
    mira = at("mira")
    record = mira.document("seat-op10")
    record.pencil.set("lot.quantity", "50")
    copy = shutil.copyfile

    def lost(source, target):
        copy(source, target)
        read = _entries_of(Path(target))
        Path(target).unlink()  # git begins an empty one in its place
        monkeypatch.setattr("engine.repo.git_index._entries_of", _first(read, _entries_of))
        monkeypatch.setattr(shutil, "copyfile", copy)

    def _first(known, then):
        told = iter([known])
        return lambda index: next(told, None) or then(index)

    monkeypatch.setattr(shutil, "copyfile", lost)
    record.ink()
    assert plain_git(folder, "status", "--porcelain") == ""
