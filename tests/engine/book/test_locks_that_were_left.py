"""Locks that a git by hand left: none refuses saves for ever, and none in use is taken away."""

import os
import subprocess
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from engine.repo import stale_locks
from engine.repo.accounts import current_login
from engine.repo.git import Git
from schemas.errors import Refused
from tests.mini_book import SEAT, plain_git
from tests.shop_floor import ink

BRANCH = "refs/heads/main.lock"
OF_BRANCH = [BRANCH, "HEAD.lock"]


def lock(folder, name, age=0.0):
    path = folder / ".git" / name
    path.write_bytes(b"")
    os.utime(path, (time.time() - age,) * 2)
    return path


def aside(folder):
    return [path.name.partition("-")[2] for path in (folder / ".git/witnessmark/aside").glob("*")]


@contextmanager
def git_at_work(where, *words):
    """A process that looks like a git that somebody runs in a folder."""
    command = f"exec -a git cat - {' '.join(words)}"  # by its name it is one
    process = subprocess.Popen(
        ["bash", "-c", f"echo; {command}"], cwd=where, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stdin is not None
    process.stdout.readline()
    while b"git" not in Path(f"/proc/{process.pid}/cmdline").read_bytes().split(b"\0")[0]:
        time.sleep(0.01)
    try:
        yield process.pid
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
        process.stdin.close()


@pytest.mark.parametrize("name", OF_BRANCH)
def test_a_young_lock_is_told_with_what_to_do_and_stays(at, folder, name):
    mira, path = at("mira"), lock(folder, name, 4)
    with pytest.raises(Refused, match=rf"{name}, [45] s old") as caught:
        ink(mira, SEAT, lot__quantity="50")
    assert "Try again in" in caught.value.hint
    assert path.exists()
    assert mira.document(SEAT).pencil.draft()
    assert not (folder / ".git/index.lock").exists()


def test_a_lock_that_is_let_go_at_once_holds_nobody_up(at, folder, monkeypatch):
    mira, path = at("mira"), lock(folder, BRANCH)
    monkeypatch.setattr("engine.book.transaction.time.sleep", lambda _: path.unlink(True))
    ink(mira, SEAT, lot__quantity="50")


@pytest.mark.parametrize("age", [11, 4000, -4000])
@pytest.mark.parametrize("name", [*OF_BRANCH, "index.lock", "packed-refs.lock"])
def test_an_old_lock_is_put_aside_and_that_is_said(at, folder, name, age):
    """Of one that is stamped in the future nobody can tell the age: it is no young one."""
    mira = at("mira")
    lock(folder, name, age)
    said = ink(mira, SEAT, lot__quantity="50").messages
    assert aside(folder) == [name.replace("/", "-")]
    assert [m for m in said if f"put aside: .git/{name}" in m]
    assert plain_git(folder, "status", "--porcelain") == ""


@pytest.mark.parametrize("name", OF_BRANCH)
def test_an_old_lock_of_a_git_at_work_stays_until_it_must_be_hung(at, folder, name):
    mira, path = at("mira"), lock(folder, name, 60)
    with git_at_work(folder / "records", "commit") as process:
        with pytest.raises(Refused, match=f"process {process}") as caught:
            ink(mira, SEAT, lot__quantity="50")
        assert "10 minutes" in caught.value.hint
        os.utime(path, (time.time() - 601,) * 2)
        mira.document(SEAT).ink()
    assert aside(folder)


def test_a_git_that_only_reads_or_works_elsewhere_keeps_no_lock(at, folder, tmp_path):
    mira = at("mira")
    lock(folder, BRANCH, 60)
    with git_at_work(folder, "log"), git_at_work(tmp_path):
        ink(mira, SEAT, lot__quantity="50")


def test_what_a_git_was_asked_is_no_word_of_its_message():
    assert stale_locks._verb(["-c", "core.pager=cat", "-C", "x", "log", "-p"]) == "log"
    assert stale_locks._verb(["--no-pager", "commit", "-m", "log"]) == "commit"


def test_an_index_that_a_git_at_work_holds_for_hours_is_its_own(at, folder):
    """A commit whose message is being typed: saves go on, the index is brought up afterwards."""
    mira, path = at("mira"), lock(folder, "index.lock", 7200)
    with git_at_work(folder, "commit") as process:
        said = ink(mira, SEAT, lot__quantity="50").messages
        assert [m for m in said if f"process {process}" in m]
        assert path.exists()
    at("ole")
    assert plain_git(folder, "status", "--porcelain") == ""


@pytest.mark.parametrize(("name", "age"), [(BRANCH, 601), ("index.lock", 601)])
def test_a_git_that_cannot_be_seen_is_believed_for_ten_minutes(at, folder, monkeypatch, name, age):
    """Another account's git: nobody is told where it works."""
    mira = at("mira")
    monkeypatch.setattr(stale_locks, "_gits_of", lambda uid, there: iter([(4711, False)]))
    lock(folder, name, age - 10)
    if name == BRANCH:
        with pytest.raises(Refused, match="process 4711"):
            ink(mira, SEAT, lot__quantity="50")
    else:
        assert ink(mira, SEAT, lot__quantity="49").messages
    lock(folder, name, age)
    ink(mira, SEAT, lot__quantity="51")
    assert aside(folder)
    assert plain_git(folder, "status", "--porcelain") == ""


def test_a_lock_that_cannot_be_put_aside_is_told(at, folder, monkeypatch):
    mira = at("mira")
    lock(folder, BRANCH, 60)
    monkeypatch.setattr(stale_locks, "_put_aside", lambda *_: "Operation not permitted")
    with pytest.raises(Refused, match=f"made by {current_login()}") as caught:
        ink(mira, SEAT, lot__quantity="50")
    assert f"Operation not permitted): {current_login()} must delete it" in caught.value.hint


def test_the_aside_folder_of_somebody_else_is_no_fault_of_the_disk(folder, monkeypatch):
    lock(folder, BRANCH, 60)
    private = folder / ".git/witnessmark"
    private.mkdir(exist_ok=True)
    (private / "aside").write_bytes(b"no folder")
    moved, (standing,) = stale_locks.look(private, [BRANCH])
    assert (moved, standing.name) == ([], BRANCH)
    assert standing.refused


def test_left_over_drafts_of_the_intent_are_taken_away(at, folder):
    mira = at("mira")
    private = folder / ".git/witnessmark"
    for name in (".intent.json.1a2b3c4d", "tree-1a2b3c4d", "tree-1a2b3c4d.lock"):
        (private / name).write_bytes(b"{}")
    ink(mira, SEAT, lot__quantity="50")
    assert [p.name for p in private.iterdir() if "intent" in p.name or "tree" in p.name] == []


def test_a_branch_that_is_locked_for_a_moment_is_waited_for(at, folder):
    """By git itself, between our look and its own."""
    mira, move = at("mira"), Git.move
    path = folder / ".git" / BRANCH

    def late(self, branch, new, old):
        path.write_bytes(b"")
        remove = subprocess.Popen(["sh", "-c", f"sleep 0.3; rm {path}"])
        try:
            return move(self, branch, new, old)
        finally:
            remove.wait()

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(Git, "move", late)
        ink(mira, SEAT, lot__quantity="50")
