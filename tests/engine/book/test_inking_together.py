"""Several people ink at once: none is lost, nothing is overwritten, names are told."""

import multiprocessing
import time

import pytest

from engine.book import Book
from engine.repo.git import Git
from engine.repo.lock import held
from schemas.errors import Conflict, Refused, UsageError, WitnessmarkError
from tests.mini_book import BUSH, SEAT, Stepping, plain_git, session_of

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
        book.document(record).pencil.set(address, value)
        for _ in range(20):
            try:
                results.put(
                    (person, address, value, book.document(record).ink(f"{first + n}").commit)
                )
                break
            except Conflict:
                book.document(record).pencil.keep()
            except Refused as refused:  # this person's other process inked it with its own
                assert "nothing to ink" in str(refused)  # noqa: PT017
                assert book.document(record).values()[address] == int(value)
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
        assert book.document(record).values()[address] == first + count - 1, (person, address)
        kept = [item.change.new for item in book.document(record).past.trace(address)]
        assert kept == [first + n for n in range(count)]
    assert book.drafts() == []
    clean(folder)


def test_two_people_on_one_coupled_group_get_there_in_turn(folder):
    done = at_once(folder, [("mira", SEAT, REACH, 6, 600), ("ole", SEAT, SWING, 6, 80)])
    assert "never" not in [commit for *_, commit in done]
    book = Book.open(folder, login="mira")
    assert (book.document(SEAT).values()[REACH], book.document(SEAT).values()[SWING]) == (605, 85)
    clean(folder)


def test_different_values_land_one_after_another(at, folder):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    ole.document(SEAT).pencil.set("tools.T04.stick_out", "63.0")
    first, second = mira.document(SEAT).ink(), ole.document(SEAT).ink()
    assert plain_git(folder, "rev-list", "HEAD").split()[:2] == [second.commit, first.commit]
    values = at("ada").document(SEAT).values()
    assert (values["lot.quantity"], str(values["tools.T04.stick_out"])) == (50, "63.0")
    clean(folder)


@pytest.mark.parametrize("theirs", [REACH, "jaws.bite", "fingers.blank.bite", "tray.pitch_across"])
def test_the_same_or_what_belongs_together_is_a_conflict_with_both_names(at, folder, theirs):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set(REACH, "612.500")
    ole.document(SEAT).pencil.set(theirs, "9")
    ole.document(SEAT).ink("mine first")
    head = plain_git(folder, "rev-parse", "HEAD")
    with pytest.raises(Conflict, match=r"Mira Falk.*Ole Brandt") as caught:
        mira.document(SEAT).ink("mine second")
    assert caught.value.hint
    assert plain_git(folder, "rev-parse", "HEAD") == head
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert (str(mark.value), mark.contested.name) == ("612.500", "Ole Brandt")
    clean(folder)


def test_to_keep_mine_or_to_take_theirs(at):
    mira, ole = at("mira"), at("ole")
    for decide, mine, expected in (("keep", "612.500", "612.500"), ("rub out", "613", "700")):
        mira.document(SEAT).pencil.set(REACH, mine)
        ole.document(SEAT).pencil.set(REACH, "700")
        ole.document(SEAT).ink("mine")
        if decide == "keep":
            mira.document(SEAT).pencil.keep()
            assert mira.document(SEAT).pencil.draft().marks[0].contested is None
            mira.document(SEAT).ink("I was there")
        else:
            mira.document(SEAT).pencil.rub_out()
        assert str(at("ada").document(SEAT).values()[REACH]) == expected
        assert mira.document(SEAT).pencil.draft() is None


def test_after_keeping_a_still_newer_ink_is_a_conflict_again(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set(REACH, "612.500")
    for value in ("700", "701"):
        ole.document(SEAT).pencil.set(REACH, value)
        ole.document(SEAT).ink("again")
        with pytest.raises(Conflict):
            mira.document(SEAT).ink("x")
        mira.document(SEAT).pencil.keep()
    mira.document(SEAT).ink("x")
    assert [str(i.change.new) for i in mira.document(SEAT).past.trace(REACH)][-3:] == [
        "700",
        "701",
        "612.500",
    ]


def test_there_and_back_by_somebody_else_is_no_conflict(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set(REACH, "612.500")
    for value in ("700", "612.350"):
        ole.document(SEAT).pencil.set(REACH, value)
        ole.document(SEAT).ink("try")
    mira.document(SEAT).ink("x")


def test_what_somebody_else_inked_just_so_is_done_and_does_not_come_back(at):
    """Mira's mark says what Ole inked; inking anything closes it, and it stays closed."""
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    ole.document(SEAT).pencil.set("lot.quantity", "50")
    ole.document(SEAT).ink()
    mira.document(SEAT).pencil.set("notes.text", "new")
    mira.document(SEAT).ink()
    ole.document(SEAT).pencil.set("lot.quantity", "60")
    ole.document(SEAT).ink()
    assert mira.document(SEAT).pencil.draft() is None


def test_my_own_ink_in_another_terminal_never_contests_my_pencil(at):
    one, other = at("mira"), at("mira")
    one.document(SEAT).pencil.set(REACH, "612.500")
    one.document(SEAT).ink("x")
    other.document(SEAT).pencil.set(SWING, "88")
    assert other.document(SEAT).pencil.draft().marks[0].contested is None
    other.document(SEAT).ink("y")


def test_a_name_is_given_once(small_book):
    """The name is free when both look; only the first one gets it."""
    folder = small_book("names")
    clock = Stepping()
    mira, ole = (Book.open(folder, login=who, clock=clock) for who in ("mira", "ole"))
    real = session_of(ole).free_path
    taken = []

    def late(name):
        path = real(name)
        if not taken:
            taken.append(mira.new("fresh", part="Hers", cell="lathe", units="mm"))
        return path

    session_of(ole).free_path = late
    for act in (
        lambda: ole.new("fresh", part="His", cell="lathe", units="mm"),
        lambda: ole.document(BUSH).copy("fresh"),
        lambda: ole.document(BUSH).rename("fresh"),
    ):
        with pytest.raises(UsageError, match="already"):
            act()
        assert mira.document("fresh").values()["record.part"] == "Hers"
    clean(folder)


def test_a_branch_moved_by_hand_in_between_is_seen(at, folder, monkeypatch):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    move, moved = Git.move, []

    def slow(self, branch, new, old):
        if not moved:
            plain_git(folder, "commit", "--allow-empty", "-m", "x", fails=True)
            assert plain_git(folder, "rev-parse", "HEAD").strip() == old  # git's index is ours
            tree = f"{old}^{{tree}}"
            made = plain_git(folder, "commit-tree", "-p", old, "-m", "by hand", tree).strip()
            moved.append(plain_git(folder, "update-ref", "HEAD", made))
        return move(self, branch, new, old)

    monkeypatch.setattr(Git, "move", slow)
    mira.document(SEAT).ink()
    assert plain_git(folder, "log", "--format=%an").splitlines()[:2] == ["Mira Falk", "By Hand"]
    clean(folder)


def test_a_hung_saver_is_named_and_nothing_is_lost(at, folder, monkeypatch):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    monkeypatch.setattr("engine.repo.lock.PATIENCE", 0.1)
    with held(folder / ".git/witnessmark"), pytest.raises(Refused, match="saving"):
        mira.document(SEAT).ink()
    assert mira.document(SEAT).pencil.draft()
    mira.document(SEAT).ink()


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
    told = tmp_path / "told"  # what it shall do, before it does it
    waits = f'cat > {told}; touch {tmp_path}/there; sleep 1; exec {real} "$@" < {told}'
    case = f'case "$*" in *update-ref*) {waits};; esac'
    (slow / "git").write_text(f'#!/bin/sh\n{case}\nexec {real} "$@"\n')
    (slow / "git").chmod(0o755)
    code = (
        "import sys; from pathlib import Path; from engine.book import Book\n"
        "record = Book.open(Path(sys.argv[1]), login='mira').document('seat-op10')\n"
        "record.pencil.set('lot.quantity', '50')\nrecord.ink()"
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
    assert book.document(SEAT).values()["lot.quantity"] == 50
    assert book.drafts() == []
    clean(folder)


def test_a_stale_lock_of_git_is_put_aside_and_a_fresh_one_is_not(at, folder):
    import os

    mira = at("mira")
    lock = folder / ".git/refs/heads/main.lock"
    for name in ("refs/heads/main.lock", "index.lock", "HEAD.lock"):
        (folder / ".git" / name).write_bytes(b"")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    with pytest.raises(WitnessmarkError, match="lock"):
        mira.document(SEAT).ink()
    assert mira.document(SEAT).pencil.draft()
    assert lock.exists()
    for name in ("refs/heads/main.lock", "index.lock", "HEAD.lock"):
        os.utime(folder / ".git" / name, (time.time() - 99,) * 2)
    mira.document(SEAT).ink()
    assert len(list((folder / ".git/witnessmark/aside").iterdir())) == 3
    clean(folder)


def test_an_index_held_by_somebodys_git_is_brought_up_to_date_later(at, folder):
    mira = at("mira")
    (folder / ".git/index.lock").write_bytes(b"")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    mira.document(SEAT).ink()
    assert at("ada").document(SEAT).values()["lot.quantity"] == 50
    (folder / ".git/index.lock").unlink()
    at("mira")  # opening mends
    clean(folder)


def test_rights_that_were_taken_away_count_at_once(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    ole.document("people").pencil.set("people.mira.roles", "auditor")
    ole.document("people").ink("moved")
    with pytest.raises(Refused, match="reads here"):
        mira.document(SEAT).ink()
    with pytest.raises(Refused, match="reads here"):
        mira.document(SEAT).pencil.set("lot.quantity", "51")
    assert mira.document(SEAT).pencil.draft()


def test_pencil_in_a_table_that_was_inked_away_waits_and_is_told(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set("photos.jaws.note", "look at the step")
    mira.document(SEAT).pencil.set("lot.quantity", "90")
    ole.document(SEAT).pencil.clear("photos.jaws")
    ole.document(SEAT).ink("no photo any more")
    assert mira.document(SEAT).layout()  # the editor still opens
    assert mira.document(SEAT).values("pencil")["lot.quantity"] == 90
    with pytest.raises(Conflict, match="does not go with what is inked now"):
        mira.document(SEAT).ink()
    mira.document(SEAT).pencil.rub_out(["photos.jaws.note"])
    assert mira.document(SEAT).ink().changes[0].address == "lot.quantity"
