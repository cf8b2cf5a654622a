"""A save that was left half-way is finished by the next one; what a person did meanwhile stays.

The states are those of `docs/crash-points.md`, made with plain git and by copying files.
"""

import json

import pytest

from engine.repo.git import Git
from schemas.errors import BookError, Conflict, UsageError
from tests.mini_book import BUSH, SEAT, plain_git

PATH = f"records/{SEAT}.toml"


def intent(folder):
    return folder / ".git/witnessmark/intent.json"


def clean(folder):
    return plain_git(folder, "status", "--porcelain") == "" and not intent(folder).exists()


def save(book, text="50", name=SEAT):
    book.document(name).pencil.set("lot.quantity", text)
    return book.document(name).ink().commit


def left_after_the_branch_moved(folder, book, act=save):
    """The state in which only branch and intent are new; the note of the intent."""
    kept = {p: p.read_bytes() for p in (folder / "records").iterdir()}
    index, parent = (folder / ".git/index").read_bytes(), book.head
    lock = folder / ".git/index.lock"
    lock.write_bytes(b"")  # an index that is held keeps the intent on the disk
    act(book)
    lock.unlink()
    note = json.loads(intent(folder).read_text())
    paths = plain_git(folder, "diff", "--name-only", "--no-renames", parent, "HEAD").split()
    note |= {"parent": parent, "paths": paths, "behind": {}}
    for path in (folder / "records").iterdir():
        path.unlink()
    for path, data in kept.items():
        path.write_bytes(data)
    (folder / ".git/index").write_bytes(index)
    intent(folder).write_text(json.dumps(note))
    return note


def test_the_next_one_who_opens_the_book_finishes_it(at, folder):
    left_after_the_branch_moved(folder, at("mira"))
    assert "quantity = 110" in (folder / PATH).read_text()
    at("ole")
    assert "quantity = 50" in (folder / PATH).read_text()
    assert clean(folder)


def test_a_rename_that_was_left_leaves_one_file(at, folder):
    left_after_the_branch_moved(
        folder, at("mira"), lambda book: book.document(SEAT).rename("other")
    )
    assert (folder / PATH).exists()
    at("ole")
    assert not (folder / PATH).exists()
    assert (folder / "records/other.toml").exists()
    assert clean(folder)


def test_what_somebody_typed_into_the_old_file_meanwhile_is_not_written_over(at, folder):
    left_after_the_branch_moved(folder, at("mira"))
    edited = (folder / PATH).read_text().replace("boring bar 16", "boring bar 20")
    (folder / PATH).write_text(edited)
    ole = at("ole")
    assert (folder / PATH).read_text() == edited
    assert ole.document(SEAT).values()["lot.quantity"] == 50
    assert not intent(folder).exists()
    assert {c.address for c in ole.document(SEAT).on_disk.found().changes} == {
        "lot.quantity", "tools.T04.what",
    }  # fmt: skip


def test_an_edited_file_of_a_renamed_record_stays_on_the_disk(at, folder):
    left_after_the_branch_moved(
        folder, at("mira"), lambda book: book.document(SEAT).rename("other")
    )
    (folder / PATH).write_text("# my notes\n")
    at("ole")
    assert (folder / PATH).read_text() == "# my notes\n"


def test_what_somebody_added_to_their_own_index_meanwhile_stays_there(at, folder):
    note = left_after_the_branch_moved(folder, at("mira"))
    edited = (folder / PATH).read_text().replace("boring bar 16", "boring bar 20")
    (folder / PATH).write_text(edited)
    plain_git(folder, "add", PATH)
    at("ole")
    assert plain_git(folder, "show", f":{PATH}") == edited
    assert note["commit"] == plain_git(folder, "rev-parse", "HEAD").strip()


def test_an_intent_whose_branch_never_moved_is_dropped_and_the_pencil_stays(at, folder):
    mira = at("mira")
    note = left_after_the_branch_moved(folder, mira)
    plain_git(folder, "update-ref", "refs/heads/main", note["parent"])
    before = (folder / PATH).read_bytes()
    ole = at("ole")
    assert (folder / PATH).read_bytes() == before
    assert ole.document(SEAT).values()["lot.quantity"] == 110
    assert clean(folder)


def test_an_intent_of_a_commit_that_is_gone_is_dropped(at, folder):
    note = left_after_the_branch_moved(folder, at("mira"))
    plain_git(folder, "update-ref", "refs/heads/main", note["parent"])
    intent(folder).write_text(json.dumps(note | {"commit": "f" * 40}))
    assert at("ole").document(SEAT).values()["lot.quantity"] == 110
    assert clean(folder)


def test_the_pencil_of_a_published_save_is_closed_by_whoever_comes_next(at, folder):
    """The save died between the branch and the journal; closed once, it never comes back."""
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    (journal,) = (folder / ".git/witnessmark/pencil/mira").glob("*.jsonl")
    before = journal.read_bytes()
    note = left_after_the_branch_moved(folder, mira, lambda book: book.document(SEAT).ink())
    closing = json.loads(journal.read_bytes()[len(before) :].splitlines()[0])
    journal.write_bytes(before)
    pencil = ["mira", journal.stem, closing["draft"], closing["marks"]]
    intent(folder).write_text(json.dumps(note | {"pencil": pencil}))
    ole = at("ole")
    assert clean(folder)
    closed = journal.read_bytes()
    assert b'"inked"' in closed[len(before) :]
    save(ole, "60")
    assert ole.drafts() == []
    intent(folder).write_text(json.dumps(note | {"pencil": pencil}))  # died once more, later
    at("ada")
    at("ole")
    assert journal.read_bytes() == closed


def test_an_index_that_is_held_loses_nobodys_save(at, folder):
    """Two saves while somebody's git holds the index; then a commit by hand keeps both."""
    mira = at("mira")
    lock = folder / ".git/index.lock"
    lock.write_bytes(b"")
    save(mira)
    save(mira, "60", BUSH)
    lock.unlink()
    at("ole")
    assert clean(folder)
    (folder / "notes.md").write_text("x")
    plain_git(folder, "add", "notes.md")
    plain_git(folder, "commit", "-qm", "by hand")
    ada = at("ada")
    assert [ada.document(name).values()["lot.quantity"] for name in (SEAT, BUSH)] == [50, 60]


def test_a_disk_that_refuses_before_the_branch_moves_is_told_and_nothing_is_inked(
    at, folder, monkeypatch
):
    mira = at("mira")
    head = mira.head
    mira.document(SEAT).pencil.set("lot.quantity", "50")

    def full(*_, **__):
        raise OSError(28, "No space left on device", "somewhere")

    monkeypatch.setattr(Git, "write_blob", full)
    with pytest.raises(BookError, match=r"the disk refused: No space left on device") as caught:
        mira.document(SEAT).ink()
    assert caught.value.where == "somewhere"
    monkeypatch.undo()
    assert plain_git(folder, "rev-parse", "HEAD").strip() == head
    assert mira.document(SEAT).pencil.draft()
    mira.document(SEAT).ink()


def test_a_branch_that_moves_again_and_again_ends_in_a_conflict(at, folder, monkeypatch):
    mira = at("mira")
    head = mira.head
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    monkeypatch.setattr(Git, "move", lambda *_: False)
    with pytest.raises(Conflict, match="again and again"):
        mira.document(SEAT).ink()
    monkeypatch.undo()
    assert plain_git(folder, "rev-parse", "HEAD").strip() == head
    assert mira.document(SEAT).pencil.draft()
    mira.document(SEAT).ink()
    assert clean(folder)


def test_a_new_record_does_not_take_the_place_of_a_file_that_nobody_inked(at, folder):
    mira = at("mira")
    (folder / "records/fresh.toml").write_text("# by hand\n")
    for act in (mira.document(SEAT).copy, mira.document(SEAT).rename):
        with pytest.raises(UsageError, match="already"):
            act("fresh")
    assert (folder / "records/fresh.toml").read_text() == "# by hand\n"
