"""A past that was rewritten stays an error until a lead has acknowledged it, with a reason.

The cases are those of docs/sync.md ("A rewritten past"); no published source.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from engine.log import index_file
from schemas.errors import Refused, UsageError
from tests.mini_book import SEAT, found, plain_git, session_of
from tests.shop_floor import edit, ink


def amend(folder: Path) -> None:
    plain_git(folder, "commit", "-q", "--amend", "-m", "as if nothing had been")


def reset(folder: Path) -> None:
    plain_git(folder, "reset", "-q", "--hard", "HEAD~1")


def reset_and_on(folder: Path) -> None:
    reset(folder)
    plain_git(folder, "commit", "-q", "--allow-empty", "-m", "as if nothing had been")


def rebase(folder: Path) -> None:
    plain_git(folder, "switch", "-q", "-c", "aside", "HEAD~2")
    plain_git(folder, "commit", "-q", "--allow-empty", "-m", "put in between")
    plain_git(folder, "cherry-pick", "main~2..main")
    plain_git(folder, "switch", "-q", "main")
    plain_git(folder, "reset", "-q", "--hard", "aside")


def another_root(folder: Path) -> None:
    tree = plain_git(folder, "write-tree").strip()
    fresh = plain_git(folder, "commit-tree", tree, "-m", "all new").strip()
    plain_git(folder, "update-ref", "refs/heads/main", fresh)


def pulled_by_force(folder: Path) -> None:
    hub = folder.parent / "forced.git"
    plain_git(folder.parent, "clone", "-q", "--bare", str(folder), str(hub))
    plain_git(hub, "update-ref", "refs/heads/main", "main~1")
    plain_git(folder, "fetch", "-q", str(hub), "main")
    plain_git(folder, "reset", "-q", "--hard", "FETCH_HEAD")


HOW = [amend, reset, reset_and_on, rebase, another_root, pulled_by_force]


def forget_cache(folder: Path) -> None:
    index_file.throw_away(index_file.place_of(folder))


def with_saves(at):  # type: ignore[no-untyped-def]
    mira, ole = at("mira"), at("ole")
    ink(mira, SEAT, **{"lot.quantity": "50"})
    ink(ole, SEAT, **{"lot.quantity": "60"})
    tip = ole.head
    mira.close()
    ole.close()
    return tip


def errors(book):  # type: ignore[no-untyped-def]
    said = [f for f in book.check() if f.rule == "past-rewritten"]
    assert said == [f for f in book.check(["people"]) if f.rule == "past-rewritten"]
    assert set(said) == set(book.past_errors())
    assert {w for w in book.warnings() if "rewritten" in w} == {f.message for f in said}
    return said


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("cache", ["kept", "deleted"])
def test_it_is_an_error_for_everybody_until_a_lead_acknowledges_it(at, folder, how, cache):
    tip = with_saves(at)
    how(folder)
    for person in ("mira", "ole", "ada", "mira"):
        if cache == "deleted":
            forget_cache(folder)
        book = at(person)
        (error,) = errors(book)
        assert (error.level, error.record) == ("error", "book")
        assert tip[:10] in error.message
        assert tip in error.hint
        assert " by Ole Brandt" in error.message
        book.close()
    with pytest.raises(Refused, match="no lead"):
        at("mira").acknowledge("", "not mine to say")
    ole = at("ole")
    with pytest.raises(Refused, match="needs a reason"):
        ole.acknowledge(tip[:10], "  ")
    ole.acknowledge(tip[:10], "the test lot was never run")
    for person in ("mira", "ole"):
        forget_cache(folder)
        assert errors(at(person)) == []
    saved = session_of(ole).past.saved(ole.head)
    assert (saved.kind, saved.who.key, saved.reason) == (
        "acknowledge", "ole", "the test lot was never run",
    )  # fmt: skip
    with pytest.raises(UsageError):
        ole.acknowledge("", "again")


def test_its_saves_can_be_got_back_and_the_error_is_gone_then(at, folder):
    tip = with_saves(at)
    reset_and_on(folder)
    assert errors(at("mira"))
    plain_git(folder, "reflog", "expire", "--expire=now", "--all")
    plain_git(folder, "gc", "-q", "--prune=now")
    plain_git(folder, "branch", "lost", tip)
    plain_git(folder, "merge", "-q", "lost", "-m", "joined")
    mira = at("mira")
    assert errors(mira) == []
    assert mira.document(SEAT).values()["lot.quantity"] == 60
    reset(folder)
    (error,) = errors(at("mira"))
    assert tip[:10] not in error.message


def test_a_second_rewriting_is_another_error_and_takes_the_acknowledgement_along(at, folder):
    tip = with_saves(at)
    reset(folder)
    ole = at("ole")
    ole.acknowledge(tip, "known")
    second = ole.head
    assert errors(ole) == []
    ole.close()
    reset(folder)
    assert {f.message[24:34] for f in errors(at("ole"))} == {tip[:10], second[:10]}
    with pytest.raises(UsageError, match="which one"):
        at("ole").acknowledge("", "both")


def test_a_screen_that_stays_open_sees_it_and_so_does_the_next_session(at, folder):
    with_saves(at)
    mira = at("mira")
    assert errors(mira) == []
    reset(folder)
    mira.refresh()
    assert len(errors(mira)) == 1
    assert len(errors(at("ole"))) == 1


def test_a_replaced_repository_is_known_by_the_index(at, folder, small_book):
    tip = with_saves(at)
    at("mira").document(SEAT).past.trace("lot.quantity")
    older = small_book("older")
    shutil.rmtree(folder / ".git")
    shutil.copytree(older / ".git", folder / ".git")
    edit(folder, f"records/{SEAT}.toml", "quantity = 60", "quantity = 110")
    mira = at("mira")
    (error,) = errors(mira)
    assert tip[:10] in error.message
    assert "not in this repository any more" in error.message
    forget_cache(folder)
    assert errors(at("ole"))
    at("ole").acknowledge(tip[:10], "the disk was changed")
    assert errors(at("mira")) == []


def test_an_acknowledgement_by_hand_or_in_anothers_name_does_not_count(at, folder):
    tip = with_saves(at)
    reset(folder)
    path = folder / f"acknowledged/past/{tip}.toml"
    path.parent.mkdir(parents=True)
    path.write_text(
        f'format = 1\n\n[acknowledged]\ncommit = "{tip}"\nat = 2026-03-02T07:00:00+01:00\n'
        'who = "ole"\nreason = "nothing to see here"\n'
    )
    plain_git(folder, "add", "-A")
    plain_git(folder, "commit", "-q", "-m", "known")
    assert errors(at("mira"))


def test_where_nothing_can_be_written_it_is_told_all_the_same(at, folder):
    with_saves(at)
    reset(folder)
    private = folder / ".git/witnessmark"
    (private / "lost").write_text("in the way")
    assert len(errors(at("mira"))) == 1


@pytest.mark.skipif(os.getuid() == 0, reason="root may write everywhere")
def test_a_reader_of_a_folder_that_is_not_writable_sees_it(at, folder):
    with_saves(at)
    reset(folder)
    private = folder / ".git/witnessmark"
    private.chmod(0o500)
    try:
        assert len(errors(at("ada"))) == 1
    finally:
        private.chmod(0o700)


@pytest.mark.parametrize("odd", [b"", b"\0" * 41, b"HEAD\n", b"a" * 40, b"--all\n"])
def test_an_odd_file_of_what_was_known_is_no_alarm_and_no_crash(at, folder, odd):
    with_saves(at)
    (folder / ".git/witnessmark/known").write_bytes(odd)
    said = errors(at("mira"))
    assert [f.message for f in said if odd != b"a" * 40] == []


def test_links_and_pipes_in_the_private_folder_are_not_followed(at, folder, tmp_path):
    with_saves(at)
    private = folder / ".git/witnessmark"
    target = tmp_path / "target"
    target.write_text("mine")
    (private / "known").unlink()
    (private / "known").symlink_to(target)
    ink(at("mira"), SEAT, **{"lot.quantity": "70"})
    assert target.read_text() == "mine"
    (private / "known").unlink()
    os.mkfifo(private / "known")
    (private / "lost").mkdir()
    os.mkfifo(private / "lost" / f"{'b' * 40}.json")
    assert at("mira").document(SEAT).values()["lot.quantity"] == 70


# what is no rewriting


def test_a_healthy_life_gives_no_alarm(at, folder, tmp_path):
    with_saves(at)
    ole = at("ole")
    ole.document(SEAT).rename("seat-new")
    plain_git(folder, "gc", "-q")
    plain_git(folder, "switch", "-q", "-c", "side", "HEAD~1")
    plain_git(folder, "switch", "-q", "main")
    plain_git(folder, "commit", "-q", "--allow-empty", "-m", "by hand")
    plain_git(folder, "merge", "-q", "--no-ff", "side", "-m", "nothing")
    for person in ("mira", "ole"):
        assert errors(at(person)) == []
    plain_git(tmp_path, "clone", "-q", str(folder), "clone")
    clone = at("mira", tmp_path / "clone")
    assert errors(clone) == []
    shutil.copytree(folder, tmp_path / "copied")
    assert errors(at("mira", tmp_path / "copied")) == []


def test_a_look_that_is_a_moment_old_is_no_alarm(at, folder):
    with_saves(at)
    slow, quick = session_of(at("mira")), at("ole")
    old = slow.head
    ink(quick, SEAT, **{"lot.quantity": "70"})
    slow.known.look(old, slow.clock)
    assert slow.known.lost(quick.head) == []
    assert errors(at("mira")) == []


def test_another_book_in_the_place_of_one_that_was_taken_away_is_no_error(at, folder):
    with_saves(at)
    at("mira").document(SEAT).past.trace("lot.quantity")
    shutil.rmtree(folder)
    found(folder)
    assert errors(at("mira")) == []


def test_what_one_box_acknowledged_is_known_on_the_other(at, folder, tmp_path):
    tip = with_saves(at)
    hub = tmp_path / "hub.git"
    plain_git(tmp_path, "clone", "-q", "--bare", str(folder), str(hub))
    plain_git(tmp_path, "clone", "-q", str(hub), "other")
    other = tmp_path / "other"
    at("mira", other).close()
    for box in (hub, other, folder):
        plain_git(box, "update-ref", "refs/heads/main", "main~1")
    plain_git(other, "update-ref", "refs/remotes/origin/main", "main")
    for box in (other, folder):
        plain_git(box, "reset", "-q", "--hard")
        assert errors(at("mira", box))
    ole = at("ole", folder)
    ole.acknowledge(tip, "known to all")
    assert not ole.sync(str(hub)).problem
    assert not at("mira", other).sync().problem
    assert errors(at("mira", other)) == []
