"""What others do to a meeting point: rewriting, merging by hand, setting traps.

The cases are those of docs/sync.md and what experiments with git showed; no published
source.
"""

from __future__ import annotations

import os
import time

import pytest

from engine.book import Book
from engine.book.mending import Mender
from engine.drafts.pencil import Pencil
from engine.repo.git import Git
from engine.repo.meeting_point import MeetingPoint
from engine.repo.remote import Remote, read_address
from schemas.errors import FoundOnDisk, Refused, UsageError
from tests.engine.merge.test_sync_boxes import LIFT, clean, meet, put
from tests.mini_book import BUSH, SEAT, Stepping, found, plain_git, session_of
from tests.shop_floor import edit, ink


def by_hand(shop):
    """A clone in which somebody works with plain git."""
    plain_git(shop.folder, "clone", "-q", str(shop.hub), "hand")
    return shop.folder / "hand"


def change(folder, old, new, path=f"records/{SEAT}.toml"):
    edit(folder, path, old, new)
    plain_git(folder, "commit", "-q", "-a", "-m", f"{old} to {new}")


# a past that was rewritten


def test_a_rebase_on_the_shared_repository_is_detected_explained_and_can_be_joined(two, shop):
    mira, ole = two
    for n in range(3):
        put(ole, SEAT, f"tools.T0{n}.what", "drill")
    ole.sync()
    mira.sync()
    hand = by_hand(shop)
    plain_git(hand, "reset", "-q", "--hard", "HEAD~3")
    change(hand, "Wipe the jaws first.", "Wipe the jaws twice.")
    plain_git(hand, "cherry-pick", ole.head + "~3.." + ole.head)
    plain_git(hand, "push", "-q", "--force", "origin", "main")
    before, tip = mira.head, shop.hub_tip()
    mine = put(mira, SEAT, "lot.quantity", "5")
    with pytest.raises(Refused, match=r"lost 3 commits .*3 of them came back as copies") as info:
        mira.sync()
    assert "--accept-rewritten" in info.value.hint
    assert (shop.hub_tip(), mira.head) == (tip, mine)
    done = mira.sync(accept_rewritten=True)
    assert not done.problem
    assert not done.contested
    assert any("rebase or cherry-pick" in said for said in done.messages)
    assert mira.document(SEAT).values()["notes.text"] == "Wipe the jaws twice."
    assert plain_git(shop.hub, "merge-base", "--is-ancestor", before, "main") == ""
    ole.sync()
    assert ole.head == mira.head


def test_a_meeting_point_set_back_to_an_older_copy_is_detected(two, shop):
    mira, ole = two
    put(ole, SEAT, "lot.quantity", "9")
    ole.sync()
    plain_git(shop.hub, "update-ref", "refs/heads/main", "main~1")
    with pytest.raises(Refused, match=r"lost 1 commit .* older state"):
        ole.sync()
    assert not mira.sync().came  # this box never saw the newer state
    assert ole.sync(accept_rewritten=True).problem == ""
    assert [a.change.new for a in mira.sync().came] == [9]


def test_an_emptied_meeting_point_is_detected_and_stays_an_error_until_it_is_joined(two, shop):
    mira, _ = two
    mira.sync()
    plain_git(shop.hub, "update-ref", "-d", "refs/heads/main")
    with pytest.raises(Refused, match="nothing is there any more"):
        mira.sync()
    for book in (mira, shop.box("one", "ole")):
        (error,) = book.past_errors()
        assert (error.rule, error.level) == ("meeting-point-rewritten", "error")
        assert "nothing is there any more" in error.message
        assert error in book.check([SEAT])
    mira.sync(accept_rewritten=True)
    assert mira.past_errors() == []
    assert shop.hub_tip() == mira.head


def test_two_meeting_points_and_merges_that_cross(two, shop):
    mira, ole = two
    plain_git(shop.folder, "clone", "-q", "--bare", str(shop.hub), "second.git")
    second = str(shop.folder / "second.git")
    put(mira, SEAT, "lot.quantity", "11")
    put(ole, SEAT, "tools.T04.stick_out", "63")
    first = str(shop.hub)
    mira.sync(first)
    ole.sync(second)
    assert mira.sync(second).merged
    assert ole.sync(first).merged
    put(mira, SEAT, "notes.text", "from one")
    put(ole, SEAT, "jaws.kept_at", "from two")
    ole.sync(first)
    crossed = mira.sync(first).merged
    parents = session_of(mira).past.saved(crossed).parents
    assert len(session_of(mira).git.merge_bases(*parents)) == 2
    ole.sync(first)
    assert ole.head == mira.head
    values = ole.document(SEAT).values()
    assert [values[a] for a in ("lot.quantity", "notes.text", "jaws.kept_at")] == [
        11, "from one", "from two",
    ]  # fmt: skip
    assert str(values["tools.T04.stick_out"]) == "63"
    assert not ole.drafts()


# commits by hand


def test_a_merge_by_hand_is_detected_and_what_it_decided_is_explained(two, shop):
    mira, ole = two
    put(ole, SEAT, LIFT, "149.4")
    ole.sync()
    hand = by_hand(shop)
    plain_git(hand, "switch", "-q", "-c", "side", "HEAD~1")
    change(hand, "lift = 148.900", "lift = 147.000")
    plain_git(hand, "switch", "-q", "main")
    plain_git(hand, "merge", "-q", "--no-commit", "side", fails=True)
    file = hand / f"records/{SEAT}.toml"
    file.write_text(
        plain_git(hand, "show", "HEAD:records/seat-op10.toml").replace("lift = 149.4", "lift = 1.5")
    )
    plain_git(hand, "commit", "-q", "-a", "-m", "merged")
    plain_git(hand, "push", "-q", "origin", "main")
    done = mira.sync()
    words = "\n".join(done.messages)
    assert "a merge by hand" in words
    assert "a commit by hand" in words
    assert "positions.seat.lift: 147.000 -> 1.5" in words
    assert "decided by that merge" in words
    assert mira.document(SEAT).past.trace(LIFT)[-1].verified is False


def test_a_value_by_hand_comes_in_under_the_name_it_has(two, shop):
    mira, _ = two
    hand = by_hand(shop)
    change(hand, "quantity = 110", "quantity = 111")
    plain_git(hand, "push", "-q", "origin", "main")
    put(mira, SEAT, "lot.quantity", "7")
    done = mira.sync()
    (item,) = done.contested
    assert (item.shared, item.shared_by.name, item.aside_by.key) == (111, "By Hand", "mira")
    assert mira.document(SEAT).pencil.draft().marks[0].contested.name == "By Hand"


def test_a_commit_by_hand_on_this_box_is_set_aside_in_the_pencil_of_who_syncs(two):
    mira, ole = two
    change(mira.folder, "quantity = 110", "quantity = 111")
    put(ole, SEAT, "lot.quantity", "7")
    meet(ole, mira)
    (mark,) = mira.document(SEAT).pencil.draft().marks
    assert mark.value == 111
    assert "by By Hand" in mark.note


@pytest.mark.parametrize("broken", ["there", "here"])
def test_a_text_that_is_broken_on_one_side_leaves_the_readable_one(two, shop, broken):
    mira, ole = two
    bad, good = (ole, mira) if broken == "there" else (mira, ole)
    change(bad.folder, "quantity = 110", "quantity = = 111")
    bad.refresh()
    put(good, SEAT, "lot.quantity", "7")
    done, back = meet(ole, mira)
    assert ole.document(SEAT).values()["lot.quantity"] == 7
    (words,) = [said for said in done.messages if "cannot be read on one side" in said]
    oid = words.partition("cat-file -p ")[2][:12]
    assert "quantity = = 111" in plain_git(mira.folder, "cat-file", "-p", oid)
    del back


# traps


def test_another_book_is_refused_and_nothing_moves(two, shop):
    mira, _ = two
    other = found(shop.folder / "other", Stepping(step=Stepping().step * 7))
    plain_git(shop.folder, "clone", "-q", "--bare", str(other), "other.git")
    before = mira.head
    with pytest.raises(Refused, match="another book"):
        mira.sync(str(shop.folder / "other.git"))
    assert mira.head == before
    assert mira.waiting().where == str(shop.hub)  # still the old one


def test_hooks_of_a_folder_do_not_run(two, shop):
    mira, _ = two
    for name in ("pre-receive", "update", "post-receive", "post-update", "reference-transaction",
                 "proc-receive", "pre-auto-gc", "push-to-checkout"):  # fmt: skip
        hook = shop.hub / "hooks" / name
        hook.parent.mkdir(exist_ok=True)
        hook.write_text(f"#!/bin/sh\ntouch {shop.folder}/ran-{name}\n")
        hook.chmod(0o755)
    put(mira, SEAT, "lot.quantity", "9")
    assert not mira.sync().problem
    assert shop.hub_tip() == mira.head
    assert not list(shop.folder.glob("ran-*"))


@pytest.mark.parametrize(
    ("key", "value"),
    [("core.sshCommand", "touch ran"), ("uploadpack.packObjectsHook", "touch ran"),
     ("core.alternateRefsCommand", "touch ran"), ("include.path", "/tmp/x")],
)  # fmt: skip
def test_a_folder_whose_configuration_could_run_something_is_refused(two, shop, key, value):
    mira, _ = two
    plain_git(shop.hub, "config", key, value)
    with pytest.raises(Refused, match="configuration sets"):
        mira.sync()


@pytest.mark.parametrize(
    "text",
    ["https://host/book.git", "http://host/x", "git://host/x", "ext::sh -c touch% ran", "-oX=y:z",
     "ssh://-oProxyCommand=touch/x", "host:-x", "ssh://host/-x", "", "ssh://host/a b", "fd::7"],
)  # fmt: skip
def test_other_ways_than_ssh_and_folders_are_refused(tmp_path, text):
    with pytest.raises(UsageError):
        read_address(text, tmp_path)


@pytest.mark.parametrize(
    "text", ["ssh://me@host:2222/srv/book.git", "me@host:srv/book.git", "host:/srv/book.git"]
)
def test_ssh_is_known_by_both_spellings(tmp_path, text):
    assert read_address(text, tmp_path).folder is None


def test_folders_are_known_in_any_spelling(tmp_path):
    wanted = str(tmp_path / "hub.git")
    for text in ("hub.git", "./hub.git", wanted, f"file://{wanted}", "a/../hub.git"):
        assert read_address(text, tmp_path).address == wanted


def test_a_box_is_no_meeting_point(two):
    mira, ole = two
    with pytest.raises(Refused, match="own book"):
        mira.sync(str(ole.folder))


def test_no_meeting_point_is_told(at):
    book = at("mira")
    assert book.waiting().where == ""
    with pytest.raises(UsageError, match="no meeting point"):
        book.sync()


def test_the_first_meeting_puts_the_book_there_and_remembers_where(at, tmp_path):
    plain_git(tmp_path, "init", "-q", "--bare", "--initial-branch=main", "new.git")
    book = at("mira")
    done = book.sync(str(tmp_path / "new.git"))
    assert (len(done.went), done.problem) == (1, "")
    assert book.waiting().where == str(tmp_path / "new.git")
    assert not book.sync().went
    Book.open(book.folder, login="mira", clock=Stepping()).close()  # its settings are allowed


def test_a_branch_of_another_name_is_not_forked_off(two, shop):
    mira, _ = two
    plain_git(shop.hub, "branch", "-m", "main", "master")
    put(mira, SEAT, "lot.quantity", "9")
    with pytest.raises(Refused, match="no branch main, only master"):
        mira.sync()


def test_a_link_in_the_shared_book_is_refused(two, shop):
    mira, _ = two
    hand = by_hand(shop)
    (hand / "programs/x.nc").symlink_to("/etc/passwd")
    plain_git(hand, "add", ".")
    plain_git(hand, "commit", "-q", "-m", "link")
    plain_git(hand, "push", "-q", "origin", "main")
    with pytest.raises(Refused, match="a link"):
        mira.sync()


def test_nothing_of_the_other_side_but_its_branch_comes_in(two, shop):
    mira, ole = two
    put(ole, SEAT, "lot.quantity", "9")
    ole.sync()
    for ref in ("refs/tags/evil", "refs/heads/other", "refs/replace/" + ole.head):
        plain_git(shop.hub, "update-ref", ref, ole.head)
    mira.sync()
    refs = plain_git(mira.folder, "for-each-ref", "--format=%(refname)").split()
    assert not [ref for ref in refs if "evil" in ref or "other" in ref or "replace" in ref]


# files on disk that are not as inked, and another text of them comes in


@pytest.mark.parametrize("mine", [False, True], ids=["comes in alone", "is merged"])
@pytest.mark.parametrize("path", [f"records/{SEAT}.toml", "programs/seat.nc"])
def test_a_file_changed_by_hand_stops_the_sync_with_its_name(two, path, mine):
    mira, ole = two
    (ole.folder / "programs/seat.nc").write_bytes(b"O7\nM30\n")
    put(ole, SEAT, "lot.quantity", "9")
    ole.sync()
    if mine:
        put(mira, BUSH, "lot.quantity", "7")
    before = mira.head
    (mira.folder / path).write_bytes(b"# by hand\n" + (mira.folder / path).read_bytes())
    kept = (mira.folder / path).read_bytes()
    with pytest.raises(FoundOnDisk) as caught:
        mira.sync()
    assert caught.value.where == path
    name = SEAT if path.startswith("records/") else "RECORD"
    assert f"`witnessmark ink {name}`" in caught.value.hint
    assert "Then sync again" in caught.value.hint
    assert ((mira.folder / path).read_bytes(), mira.head) == (kept, before)


@pytest.mark.parametrize("how", ["as inked", "as it comes in", "gone"])
def test_a_file_in_which_nothing_can_be_lost_stops_no_sync(two, how):
    mira, ole = two
    path = "programs/seat.nc"
    (ole.folder / path).write_bytes(b"O7\nM30\n")
    put(ole, SEAT, "lot.quantity", "9")
    ole.sync()
    if how == "as it comes in":
        (mira.folder / path).write_bytes(b"O7\nM30\n")
    elif how == "gone":
        (mira.folder / path).unlink()
    mira.sync()
    assert (mira.folder / path).read_bytes() == b"O7\nM30\n"
    assert plain_git(mira.folder, "status", "--porcelain") == ""


def test_a_file_nobody_inked_is_not_written_over_by_one_that_comes_in(two):
    mira, ole = two
    ole.document(BUSH).copy("fresh")
    ole.sync()
    (mira.folder / "records/fresh.toml").write_text("# mine\n")
    with pytest.raises(FoundOnDisk) as caught:
        mira.sync()
    assert caught.value.where == "records/fresh.toml"
    assert (mira.folder / "records/fresh.toml").read_text() == "# mine\n"


# crashes


class Killed(BaseException):
    """The process ends here."""


POINTS = [
    (Mender, "intend"), (Git, "move"), (Mender, "_finish"), (Mender, "_bring_file"),
    (Mender, "_bring_index"), (Pencil, "set_aside"), (Remote, "fetch"), (Remote, "push"),
    (MeetingPoint, "saw"),
]  # fmt: skip


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize(("owner", "name"), POINTS, ids=[name for _, name in POINTS])
def test_killed_anywhere_the_next_sync_goes_on(two, monkeypatch, owner, name, when):
    mira, ole = two
    put(ole, SEAT, "lot.quantity", "9")
    put(ole, BUSH, "lot.quantity", "9")
    (ole.folder / "programs/bush.nc").write_bytes(b"O1\nG0 X9\nM30\n")
    ole.document(BUSH).ink("better")
    put(mira, SEAT, "lot.quantity", "7")
    ole.sync()
    real = getattr(owner, name)

    def dies(self, *words):
        if when == "after":
            real(self, *words)
        raise Killed

    monkeypatch.setattr(owner, name, dies)
    with pytest.raises(Killed):
        mira.sync()
    monkeypatch.undo()
    again = Book.open(mira.folder, login="mira", clock=Stepping())
    done = again.sync()
    assert not done.problem
    clean(again)
    assert [mark.value for mark in again.document(SEAT).pencil.draft().marks] == [7]
    again.document(SEAT).pencil.rub_out()
    again.close()
    once = Book.open(mira.folder, login="mira", clock=Stepping())
    assert once.document(SEAT).pencil.draft() is None
    assert (
        once.document(SEAT).values()["lot.quantity"]
        == once.document(BUSH).values()["lot.quantity"]
        == 9
    )
    once.close()
    ole.sync()
    assert ole.head == once.head


@pytest.mark.parametrize("merged", [True, False])
def test_an_index_that_is_held_during_a_sync_takes_nothing_back_afterwards(two, shop, merged):
    """Going forward and merging, with an ink before and after."""
    one, other = two
    for box in two:
        box.sync(str(shop.hub))
    folder = other.folder
    ink(one, SEAT, lot__quantity="50")
    one.sync()
    lock = folder / ".git/index.lock"
    lock.write_bytes(b"")
    if merged:
        ink(other, BUSH, lot__quantity="60")
    assert [m for m in other.sync().messages if "git's own index" in m]
    ink(other, SEAT, lot__quantity="51")
    lock.unlink()
    other.refresh()
    assert plain_git(folder, "status", "--porcelain") == ""
    assert plain_git(folder, "diff", "--cached", "HEAD", "--stat") == ""


@pytest.mark.parametrize("name", ["incoming", "seen"])
def test_a_lock_that_a_killed_sync_left_holds_up_no_later_one(two, name):
    one, other = two
    one.sync()
    ink(other, SEAT, lot__quantity="50")
    other.sync()
    (mark,) = (one.folder / ".git/refs/witnessmark").iterdir()
    lock = mark / f"{name}.lock"
    lock.write_bytes(b"")
    os.utime(lock, (time.time() - 60,) * 2)
    assert one.sync().problem == ""
    assert one.document(SEAT).values()["lot.quantity"] == 50
