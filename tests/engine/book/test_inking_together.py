"""Several people ink at once: none is lost, nothing is overwritten, names are told."""

import multiprocessing
import time

import pytest

from engine.book import Book
from engine.repo.git import Git
from engine.repo.lock import held
from schemas.errors import Conflict, Refused, UsageError, WitnessmarkError
from tests.mini_book import BUSH, SEAT, Stepping, plain_git

REACH, SWING = "positions.seat.reach", "positions.seat.swing"


def trailers(folder, key):
    return plain_git(folder, "log", "--format=%(trailers:key=" + key + ",valueonly)").split()


def clean(folder):
    """Files and index are the head's, also for somebody's own git."""
    assert plain_git(folder, "status", "--porcelain") == ""
    assert plain_git(folder, "diff", "--cached", "HEAD") == ""
    assert plain_git(folder, "diff", "HEAD") == ""
    assert "nothing to commit" in plain_git(folder, "commit", "-a", "-m", "x", fails=True)


def _saver(folder, person, record, address, count, first, results):
    book = Book.open(folder, login=person, clock=Stepping())
    for n in range(count):
        value = str(first + n)
        book.set(record, address, value)
        for _ in range(20):
            try:
                results.put((person, address, value, book.ink(record, f"{first + n}").commit))
                break
            except Conflict:
                book.keep(record)
            except Refused as refused:  # this person's other process inked it with its own
                assert "nothing to ink" in str(refused)  # noqa: PT017
                assert book.values(record)[address] == int(value)
                results.put((person, address, value, ""))
                break
        else:
            results.put((person, address, value, "never"))
    book.close()


def at_once(folder, work):
    context = multiprocessing.get_context("spawn")
    results = context.Queue()
    workers = [context.Process(target=_saver, args=(folder, *w, results)) for w in work]
    for worker in workers:
        worker.start()
    found = [results.get(timeout=90) for w in work for _ in range(w[3])]
    for worker in workers:
        worker.join(60)
        assert worker.exitcode == 0
    return found


def test_eight_processes_lose_no_save(folder):
    work = [
        (person, record, f"tools.T{n}{record[0]}.length", 5, 100 * n)
        for n, (person, record) in enumerate(
            [("mira", SEAT), ("ole", SEAT), ("mira", BUSH), ("ole", BUSH)] * 2, start=1
        )
    ]
    done = at_once(folder, work)
    assert len(done) == 40
    past = plain_git(folder, "rev-list", "HEAD").split()
    assert all(commit in past for *_, commit in done if commit)
    # two processes of one person share their pencil: one save may carry both values
    assert len(set(trailers(folder, "Draft"))) == len(trailers(folder, "Draft"))
    book = Book.open(folder, login="mira")
    for person, record, address, count, first in work:
        assert book.values(record)[address] == first + count - 1, (person, address)
        kept = [item.change.new for item in book.trace(record, address)]
        assert kept == [first + n for n in range(count)]
    assert book.drafts() == []
    clean(folder)


def test_two_people_on_one_coupled_group_get_there_in_turn(folder):
    done = at_once(folder, [("mira", SEAT, REACH, 6, 600), ("ole", SEAT, SWING, 6, 80)])
    assert "never" not in [commit for *_, commit in done]
    book = Book.open(folder, login="mira")
    assert (book.values(SEAT)[REACH], book.values(SEAT)[SWING]) == (605, 85)
    clean(folder)


def test_different_values_land_one_after_another(at, folder):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, "lot.quantity", "50")
    ole.set(SEAT, "tools.T04.stick_out", "63.0")
    first, second = mira.ink(SEAT), ole.ink(SEAT)
    assert plain_git(folder, "rev-list", "HEAD").split()[:2] == [second.commit, first.commit]
    values = at("ada").values(SEAT)
    assert (values["lot.quantity"], str(values["tools.T04.stick_out"])) == (50, "63.0")
    clean(folder)


@pytest.mark.parametrize("theirs", [REACH, "jaws.bite", "fingers.blank.bite", "tray.pitch_across"])
def test_the_same_or_what_belongs_together_is_a_conflict_with_both_names(at, folder, theirs):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, REACH, "612.500")
    ole.set(SEAT, theirs, "9")
    ole.ink(SEAT, "mine first")
    head = plain_git(folder, "rev-parse", "HEAD")
    with pytest.raises(Conflict, match=r"Mira Falk.*Ole Brandt") as caught:
        mira.ink(SEAT, "mine second")
    assert caught.value.hint
    assert plain_git(folder, "rev-parse", "HEAD") == head
    (mark,) = mira.draft(SEAT).marks
    assert (str(mark.value), mark.contested.name) == ("612.500", "Ole Brandt")
    clean(folder)


def test_to_keep_mine_or_to_take_theirs(at):
    mira, ole = at("mira"), at("ole")
    for decide, mine, expected in (("keep", "612.500", "612.500"), ("rub out", "613", "700")):
        mira.set(SEAT, REACH, mine)
        ole.set(SEAT, REACH, "700")
        ole.ink(SEAT, "mine")
        if decide == "keep":
            mira.keep(SEAT)
            assert mira.draft(SEAT).marks[0].contested is None
            mira.ink(SEAT, "I was there")
        else:
            mira.rub_out(SEAT)
        assert str(at("ada").values(SEAT)[REACH]) == expected
        assert mira.draft(SEAT) is None


def test_after_keeping_a_still_newer_ink_is_a_conflict_again(at):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, REACH, "612.500")
    for value in ("700", "701"):
        ole.set(SEAT, REACH, value)
        ole.ink(SEAT, "again")
        with pytest.raises(Conflict):
            mira.ink(SEAT, "x")
        mira.keep(SEAT)
    mira.ink(SEAT, "x")
    assert [str(i.change.new) for i in mira.trace(SEAT, REACH)][-3:] == ["700", "701", "612.500"]


def test_there_and_back_by_somebody_else_is_no_conflict(at):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, REACH, "612.500")
    for value in ("700", "612.350"):
        ole.set(SEAT, REACH, value)
        ole.ink(SEAT, "try")
    mira.ink(SEAT, "x")


def test_what_somebody_else_inked_just_so_is_done_and_does_not_come_back(at):
    """Mira's mark says what Ole inked; inking anything closes it, and it stays closed."""
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, "lot.quantity", "50")
    ole.set(SEAT, "lot.quantity", "50")
    ole.ink(SEAT)
    mira.set(SEAT, "notes.text", "new")
    mira.ink(SEAT)
    ole.set(SEAT, "lot.quantity", "60")
    ole.ink(SEAT)
    assert mira.draft(SEAT) is None


def test_my_own_ink_in_another_terminal_never_contests_my_pencil(at):
    one, other = at("mira"), at("mira")
    one.set(SEAT, REACH, "612.500")
    one.ink(SEAT, "x")
    other.set(SEAT, SWING, "88")
    assert other.draft(SEAT).marks[0].contested is None
    other.ink(SEAT, "y")


def test_a_name_is_given_once(small_book):
    """The name is free when both look; only the first one gets it."""
    folder = small_book("names")
    clock = Stepping()
    mira, ole = (Book.open(folder, login=who, clock=clock) for who in ("mira", "ole"))
    real = ole._session.free_path
    taken = []

    def late(name):
        path = real(name)
        if not taken:
            taken.append(mira.new("fresh", part="Hers", cell="lathe", units="mm"))
        return path

    ole._session.free_path = late
    for act in (
        lambda: ole.new("fresh", part="His", cell="lathe", units="mm"),
        lambda: ole.copy(BUSH, "fresh"),
        lambda: ole.rename(BUSH, "fresh"),
    ):
        with pytest.raises(UsageError, match="already"):
            act()
        assert mira.values("fresh")["record.part"] == "Hers"
    clean(folder)


def test_a_branch_moved_by_hand_in_between_is_seen(at, folder, monkeypatch):
    mira = at("mira")
    mira.set(SEAT, "lot.quantity", "50")
    move, moved = Git.move, []

    def slow(self, branch, new, old):
        if not moved:
            moved.append(plain_git(folder, "commit", "--allow-empty", "-q", "-m", "by hand"))
        return move(self, branch, new, old)

    monkeypatch.setattr(Git, "move", slow)
    mira.ink(SEAT)
    assert plain_git(folder, "log", "--format=%an").splitlines()[:2] == ["Mira Falk", "By Hand"]
    clean(folder)


def test_a_hung_saver_is_named_and_nothing_is_lost(at, folder, monkeypatch):
    mira = at("mira")
    mira.set(SEAT, "lot.quantity", "50")
    monkeypatch.setattr("engine.repo.lock.PATIENCE", 0.1)
    with held(folder / ".git/witnessmark"), pytest.raises(Refused, match="saving"):
        mira.ink(SEAT)
    assert mira.draft(SEAT)
    mira.ink(SEAT)


def test_a_git_whose_caller_died_still_holds_the_lock(folder, tmp_path, monkeypatch):
    """Else it could move the branch behind the back of the next one."""
    import os
    import subprocess
    import sys

    slow = tmp_path / "bin"
    slow.mkdir()
    real = subprocess.run(
        ["which", "git"], capture_output=True, text=True, check=True
    ).stdout.strip()
    waits = f'case "$*" in *update-ref*) touch {tmp_path}/there; sleep 1;; esac'
    (slow / "git").write_text(f'#!/bin/sh\n{waits}\nexec {real} "$@"\n')
    (slow / "git").chmod(0o755)
    code = (
        "import sys; from pathlib import Path; from engine.book import Book\n"
        "b = Book.open(Path(sys.argv[1]), login='mira'); b.set('seat-op10', 'lot.quantity', '50')\n"
        "b.ink('seat-op10')"
    )
    saver = subprocess.Popen(
        [sys.executable, "-c", code, str(folder)],
        env={**os.environ, "PATH": f"{slow}:{os.environ['PATH']}"},
    )
    while not (tmp_path / "there").exists():
        time.sleep(0.01)
    saver.kill()
    saver.wait()
    book = Book.open(folder, login="ole", clock=Stepping())  # waits for the orphan, then mends
    assert book.values(SEAT)["lot.quantity"] == 50
    assert book.drafts() == []
    clean(folder)


def test_a_stale_lock_of_git_is_put_aside_and_a_fresh_one_is_not(at, folder):
    import os

    mira = at("mira")
    lock = folder / ".git/refs/heads/main.lock"
    for name in ("refs/heads/main.lock", "index.lock", "HEAD.lock"):
        (folder / ".git" / name).write_bytes(b"")
    mira.set(SEAT, "lot.quantity", "50")
    with pytest.raises(WitnessmarkError, match="lock"):
        mira.ink(SEAT)
    assert mira.draft(SEAT)
    assert lock.exists()
    for name in ("refs/heads/main.lock", "index.lock", "HEAD.lock"):
        os.utime(folder / ".git" / name, (time.time() - 99,) * 2)
    mira.ink(SEAT)
    assert len(list((folder / ".git/witnessmark/aside").iterdir())) == 3
    clean(folder)


def test_an_index_held_by_somebodys_git_is_brought_up_to_date_later(at, folder):
    mira = at("mira")
    (folder / ".git/index.lock").write_bytes(b"")
    mira.set(SEAT, "lot.quantity", "50")
    mira.ink(SEAT)
    assert at("ada").values(SEAT)["lot.quantity"] == 50
    (folder / ".git/index.lock").unlink()
    at("mira")  # opening mends
    clean(folder)


def test_rights_that_were_taken_away_count_at_once(at):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, "lot.quantity", "50")
    ole.set("people", "people.mira.roles", "auditor")
    ole.ink("people", "moved")
    with pytest.raises(Refused, match="reads here"):
        mira.ink(SEAT)
    with pytest.raises(Refused, match="reads here"):
        mira.set(SEAT, "lot.quantity", "51")
    assert mira.draft(SEAT)


def test_pencil_in_a_table_that_was_inked_away_waits_and_is_told(at):
    mira, ole = at("mira"), at("ole")
    mira.set(SEAT, "photos.jaws.note", "look at the step")
    mira.set(SEAT, "lot.quantity", "90")
    ole.clear(SEAT, "photos.jaws")
    ole.ink(SEAT, "no photo any more")
    assert mira.layout(SEAT)  # the editor still opens
    assert mira.values(SEAT, "pencil")["lot.quantity"] == 90
    with pytest.raises(Conflict, match="does not go with what is inked now"):
        mira.ink(SEAT)
    mira.rub_out(SEAT, ["photos.jaws.note"])
    assert mira.ink(SEAT).changes[0].address == "lot.quantity"
