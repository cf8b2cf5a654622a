"""What was changed on disk is noticed, offered and kept; never overwritten."""

from decimal import Decimal

import pytest

from engine.book import hand_edits
from schemas.errors import (
    BookError,
    FoundOnDisk,
    NoRight,
    ReadError,
    Refused,
    UsageError,
    ValueRefused,
)
from tests import shop_floor
from tests.mini_book import BUSH, SEAT, plain_git

PATH = f"records/{SEAT}.toml"


def edit(folder, old, new, path=PATH):
    shop_floor.edit(folder, path, old, new)


def copies(folder):
    return sorted((folder / ".git/witnessmark/found").glob("*"))


def test_a_hand_edit_stops_the_ink_and_stays(at, folder):
    mira = at("mira")
    edit(folder, "quantity = 110", "quantity = 111")
    mira.document(SEAT).pencil.set("jaws.kept_at", "rack 5")
    with pytest.raises(FoundOnDisk, match="outside") as caught:
        mira.document(SEAT).ink()
    assert "--take-from-disk" in caught.value.hint
    assert "quantity = 111" in (folder / PATH).read_text()
    assert mira.document(SEAT).pencil.draft()
    found = mira.document(SEAT).on_disk.found()
    assert [(c.address, c.old, c.new) for c in found.changes] == [("lot.quantity", 110, 111)]


def test_it_becomes_pencil_with_its_comments_and_a_copy_is_kept(at, folder):
    mira = at("mira")
    edit(folder, "quantity = 110", "quantity = 111 # two extra for the lab")
    bytes_found = (folder / PATH).read_bytes()
    draft = mira.document(SEAT).on_disk.take()
    assert {m.address: m.note for m in draft.marks} == dict.fromkeys(
        ("lot.quantity", "notes.text"), "found on disk"
    )
    assert "two extra for the lab" in str(mira.document(SEAT).values("pencil")["notes.text"])
    assert [c.read_bytes() for c in copies(folder)] == [bytes_found]
    assert plain_git(folder, "status", "--porcelain") == ""
    mira.document(SEAT).ink()
    text = (folder / PATH).read_text()
    assert "quantity = 111\n" in text
    assert "Wipe the jaws first.\\ncomment at lot.quantity: two extra for the lab" in text


def test_taking_twice_is_taking_once(at, folder):
    mira = at("mira")
    edit(folder, "quantity = 110", "quantity = 111")
    text = (folder / PATH).read_bytes()
    mira.document(SEAT).on_disk.take()
    (folder / PATH).write_bytes(text)  # as if the power went before the file was put back
    assert len(mira.document(SEAT).on_disk.take().marks) == 1
    assert len(copies(folder)) == 2


@pytest.mark.parametrize(
    ("old", "new", "address"),
    [
        ("quantity = 110", "quantity = 110.0", None),
        ("reach = 612.350", "reach = 612.35", "positions.seat.reach"),
        ('    "r5c11",\n', '    "r5c10",\n    "r5c11",\n', "tray.unused"),
        ('kept_at = "rack 4"\n', "", "jaws.kept_at"),
    ],
)
def test_any_difference_to_the_letter_is_taken(at, folder, old, new, address):
    mira = at("mira")
    edit(folder, old, new)
    if address is None:
        assert mira.document(SEAT).on_disk.found().problems
        with pytest.raises(ReadError):
            mira.document(SEAT).on_disk.take()
        return
    assert [m.address for m in mira.document(SEAT).on_disk.take().marks] == [address]


def test_a_list_that_only_looks_the_same_is_taken(at, folder):
    ole = at("ole")
    edit(folder, '    "M30",\n', '    "M30, M99",\n', "cells/lathe.toml")
    ole.document("cells/lathe").on_disk.take()
    ole.document("cells/lathe").ink()
    edit(folder, '    "M30, M99",\n', '    "M30",\n    "M99",\n', "cells/lathe.toml")
    assert len(ole.document("cells/lathe").on_disk.take().marks) == 1


def test_putting_back_keeps_a_copy(at, folder):
    mira = at("mira")
    inked = (folder / PATH).read_bytes()
    (folder / PATH).write_bytes(b"\xff nonsense")
    assert mira.document(SEAT).on_disk.found().problems
    with pytest.raises(ReadError):
        mira.document(SEAT).on_disk.take()
    kept = mira.document(SEAT).on_disk.put_back()
    assert (folder / PATH).read_bytes() == inked
    with open(kept, "rb") as file:  # noqa: PTH123
        assert file.read() == b"\xff nonsense"


def test_a_file_that_is_gone_is_said_so_and_comes_back(at, folder):
    mira = at("mira")
    (folder / PATH).unlink()
    assert mira.document(SEAT).on_disk.found().gone
    with pytest.raises(Refused):
        mira.document(SEAT).on_disk.take()
    mira.document(SEAT).on_disk.put_back()
    assert mira.document(SEAT).on_disk.found() is None
    (folder / PATH).unlink()
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    mira.document(SEAT).ink()
    assert "quantity = 5" in (folder / PATH).read_text()


def test_an_identity_is_never_taken_from_disk(at, folder):
    edit(folder, "wm-seat10", "wm-stolen")
    with pytest.raises(ValueRefused, match=r"record\.id"):
        at("mira").document(SEAT).on_disk.take()
    assert "wm-stolen" in (folder / PATH).read_text()


def test_a_link_is_not_followed(at, folder, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("quantity = 5")
    (folder / PATH).unlink()
    (folder / PATH).symlink_to(secret)
    mira = at("mira")
    assert mira.document(SEAT).on_disk.found().problems
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    with pytest.raises(UsageError, match="symbolic link"):
        mira.document(SEAT).ink()
    assert secret.read_text() == "quantity = 5"


def test_a_hand_edit_committed_by_hand_is_history(at, folder):
    """Its comments go into the notes at the next ink, also where the notes are in pencil."""
    mira = at("mira")
    edit(folder, "quantity = 110", "quantity = 111 # two extra")
    plain_git(folder, "commit", "-qam", "by hand")
    assert mira.document(SEAT).on_disk.found() is None
    assert mira.document(SEAT).values()["lot.quantity"] == 111
    mira.document(SEAT).pencil.set("notes.text", "My own words.")
    done = mira.document(SEAT).ink()
    notes = mira.document(SEAT).values()["notes.text"]
    assert notes == "My own words.\ncomment at lot.quantity: two extra"
    assert any("1 comment of the hand-edited" in message for message in done.messages)
    last = mira.document(SEAT).past.trace("lot.quantity")[-1]
    assert (last.who.name, last.verified) == ("By Hand", False)


def test_a_crash_of_somebody_else_is_not_taken_for_a_hand_edit(at, folder, monkeypatch):
    """The branch has moved, the file has not: nobody's edit."""
    ada, mira = at("mira"), at("ole")
    monkeypatch.setattr("engine.book.mending.Mender._finish", lambda *_: 1 / 0)
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    with pytest.raises(ZeroDivisionError):
        mira.document(SEAT).ink()
    monkeypatch.undo()
    assert "quantity = 110" in (folder / PATH).read_text()
    assert ada.document(SEAT).on_disk.found() is None
    assert "quantity = 50" in (folder / PATH).read_text()
    assert mira.document(SEAT).pencil.draft() is None


def test_a_full_disk_after_the_branch_moved_is_still_a_save(at, folder, monkeypatch):
    mira = at("mira")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("engine.book.mending.write_file", full)
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    done = mira.document(SEAT).ink()
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    assert any("not all its files" in words for words in mira.warnings())
    monkeypatch.undo()
    assert mira.document(SEAT).on_disk.found() is None
    assert "quantity = 50" in (folder / PATH).read_text()
    assert not any("not all its files" in words for words in mira.warnings())


@pytest.mark.parametrize("text", ["", "{", "5", "[]", "{}", '{"commit": "x"}', "null"])
def test_an_intent_that_makes_no_sense_keeps_nobody_out(at, folder, text):
    (folder / ".git/witnessmark/intent.json").write_text(text)
    mira = at("mira")
    assert mira.warnings() == []
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    mira.document(SEAT).ink()


def test_a_book_is_read_where_nothing_can_be_written(at, folder, monkeypatch):
    import shutil

    (folder / ".git/witnessmark/intent.json").write_text("{}")

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("engine.book.transaction.held", refuse)
    ada = at("ada")
    assert ada.document(SEAT).on_disk.found() is None
    shutil.rmtree(folder / ".git/witnessmark")
    monkeypatch.setattr("pathlib.Path.mkdir", refuse)
    ada = at("ada")
    assert ada.list_records()
    assert ada.document(SEAT).past.trace("lot.quantity")
    assert ada.drafts() == []


def test_strays_are_listed_and_taken_in(at, folder):
    mira = at("mira")
    text = (folder / PATH).read_text()
    (folder / "records/found.toml").write_text(text.replace("wm-seat10", "wm-found1"))
    (folder / "records/double.toml").write_text(text)
    (folder / "records/broken.toml").write_text("x = ")
    listed = {item.record: item for item in mira.list_records(findings=False)}
    assert all(listed[name].problems for name in ("found", "double", "broken"))
    mira.document("found").ink("from the old box")
    assert mira.document("found").past.trace("lot.quantity")[0].who.key == "mira"
    with pytest.raises(Refused, match=SEAT):
        mira.document("double").ink()
    with pytest.raises(ReadError):
        mira.document("broken").ink()


def test_a_broken_record_keeps_nobody_from_the_rest_and_can_be_restored(at, folder):
    mira = at("mira")
    for n, text in enumerate((b"x = ", b"format = 1\n[record]\nid = 5\n", b"\xff\xfe")):
        whole = plain_git(folder, "show", f"HEAD:{PATH}").encode()
        broken = text if n else whole.replace(b"quantity = 110", b"quantity = ")
        (folder / PATH).write_bytes(broken)
        plain_git(folder, "commit", "-qam", "broken by hand")
        listed = {item.record: item for item in mira.list_records(findings=False)}
        assert listed[SEAT].problems
        assert not listed[BUSH].problems
        mira.document(BUSH).pencil.set("lot.quantity", str(60 + n))
        mira.document(BUSH).ink()
        if n == 0:
            mira.document(SEAT).restore("ink-1", "", "mend")
            assert mira.document(SEAT).values()["lot.quantity"] == 110
            first, unreadable = mira.document(SEAT).past.trace("lot.quantity")
            assert unreadable.change.is_unreadable_text
            assert first.change.new == 110
        else:
            plain_git(folder, "checkout", "-q", "HEAD~2", "--", PATH)
            plain_git(folder, "commit", "-qam", "mended by hand")


def test_where_the_policy_cannot_be_read_a_taught_position_needs_a_reason(at, folder):
    (folder / "book.toml").write_bytes(b"= = =")
    plain_git(folder, "commit", "-qam", "broken by hand")
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "9")
    assert not mira.document(SEAT).needs_reason()
    mira.document(SEAT).pencil.set("positions.seat.lift", "149")
    assert mira.document(SEAT).needs_reason()
    with pytest.raises(ReadError, match=r"book\.toml:1"):  # which files go along is not known
        mira.document(SEAT).ink("taught again")
    assert len(mira.document(SEAT).pencil.draft().marks) == 2


@pytest.mark.parametrize(
    ("address", "needed"),
    [("positions.seat.lift", True), ("jaws.bite", True), ("lot.quantity", False)],
)
def test_what_the_policy_names_needs_a_reason(at, address, needed):
    mira = at("mira")
    mira.document(SEAT).pencil.set(address, "9")
    assert mira.document(SEAT).needs_reason() == needed
    if needed:
        for none in ("", " \n"):
            with pytest.raises(Refused, match=f"{address} needs a reason"):
                mira.document(SEAT).ink(none)
    done = mira.document(SEAT).ink("measured" if needed else "")
    assert [change.address for change in done.changes] == [address]


def broken_by_hand(folder):
    """The record's inked text is no TOML; the text from before."""
    whole = (folder / PATH).read_text()
    (folder / PATH).write_text(whole.replace("quantity = 110", "quantity = "))
    plain_git(folder, "commit", "-qam", "broken by hand")
    return whole


def test_a_broken_record_is_mended_on_disk_and_inked_with_a_reason(at, folder):
    whole = broken_by_hand(folder)
    mira = at("mira")
    with pytest.raises(ReadError):  # nothing is mended yet
        mira.document(SEAT).ink("mended")
    (folder / PATH).write_text(whole.replace("quantity = 110", "quantity = 90"))
    for no_reason in ("", "  "):
        with pytest.raises(Refused, match="needs a reason"):
            mira.document(SEAT).ink(no_reason)
    done = mira.document(SEAT).ink("a slip of the editor")
    assert "mended" in done.subject
    assert mira.document(SEAT).values()["lot.quantity"] == 90
    last = mira.document(SEAT).past.trace("lot.quantity")[-1]
    assert (last.who.key, last.reason, last.verified) == ("mira", "a slip of the editor", True)
    assert plain_git(folder, "status", "--porcelain") == ""


def test_mending_never_changes_whose_record_it_is(at, folder):
    whole = broken_by_hand(folder)
    mira, head = at("mira"), plain_git(folder, "rev-parse", "HEAD")
    (folder / PATH).write_text(whole.replace("wm-seat10", "wm-other1"))
    with pytest.raises(Refused, match="another identity"):
        mira.document(SEAT).ink("mended")
    assert plain_git(folder, "rev-parse", "HEAD") == head
    (folder / PATH).write_text(whole)
    mira.document(SEAT).ink("mended")
    assert mira.document(SEAT).values()["record.id"] == "wm-seat10"


@pytest.mark.parametrize("value", ["nan", "inf", "1e400", "123456789012345678901234567890.5"])
def test_a_number_that_no_field_accepts_breaks_no_comparison(at, folder, value):
    ada = at("ada")
    for text in (value, f"{value}  # twice"):
        now = plain_git(folder, "show", f"HEAD:{PATH}").split("quantity = ")[0]
        (folder / PATH).write_text(f"{now}quantity = {text}\n")
        plain_git(folder, "commit", "-qam", "by hand")
    from schemas.address import show

    compared = ada.document(SEAT).past.compare("ink-1", "ink-3").changes
    assert next(show(c.new) for c in compared if c.address == "lot.quantity")
    ada.document(SEAT).past.compare("ink-2", "ink-3")
    assert ada.document(SEAT).past.trace("lot")
    assert ada.list_records(findings=False)


def test_a_program_on_disk_goes_along_with_its_record(at, folder):
    mira = at("mira")
    (folder / "programs/seat.nc").write_bytes(b"O1\r\nM30\r\n\x00\xff")
    done = mira.document(SEAT).ink()
    assert "programs/seat.nc" in done.subject
    assert plain_git(folder, "status", "--porcelain") == ""
    (folder / "programs/seat.nc").write_bytes(b"not inked")
    with pytest.raises(FoundOnDisk):
        mira.document(SEAT).restore("ink-1", "", "back")
    assert (folder / "programs/seat.nc").read_bytes() == b"not inked"


def markers_committed(folder, path=PATH):
    """Somebody commits a merge with its markers in it."""
    line = "quantity = 110\n" if path == PATH else 'name = "Lathe"\n'
    both = f"<<<<<<< HEAD\n{line}=======\n# theirs\n>>>>>>> other\n"
    edit(folder, line, both, path)
    plain_git(folder, "commit", "-qam", "a merge by hand")


@pytest.mark.parametrize(("name", "path"), [(SEAT, PATH), ("cells/lathe", "cells/lathe.toml")])
def test_markers_committed_by_hand_are_unreadable_there_and_no_value_is_gone(
    at, folder, name, path
):
    mira = at("mira")
    begun = mira.document(name).past.marks()[-1].commit
    markers_committed(folder, path)
    past = mira.document(name).past
    for start, end in ((begun, "now"), ("now", begun), ("ink-1", "ink-2"), ("now", "pencil")):
        found = past.compare(start, end)
        assert found.changes == found.positions == ()
        (said,) = found.unreadable
        assert "is unreadable there, line " in said
    assert past.since(mira.now()).unreadable or past.compare(begun, "now").unreadable
    plain_git(folder, "checkout", "-q", "HEAD~", "--", path)
    plain_git(folder, "commit", "-qm", "mended by hand")
    past = mira.document(name).past
    assert past.compare(begun, "now").unreadable == ()
    assert past.compare(begun, "now").changes == ()
    assert past.compare("ink-2", "now").unreadable


@pytest.mark.parametrize("how", ["restore", "on disk"])
def test_mending_them_says_what_changed_and_not_that_all_is_new(at, folder, how):
    mira = at("mira")
    whole = (folder / PATH).read_text()
    markers_committed(folder)
    if how == "restore":
        done = mira.document(SEAT).restore("ink-1", "", "mend")
        assert done.changes == ()
    else:
        (folder / PATH).write_text(whole.replace("quantity = 110", "quantity = 120"))
        done = mira.document(SEAT).ink("took the larger one")
        assert [(c.address, c.old, c.new) for c in done.changes] == [("lot.quantity", 110, 120)]
    traced = mira.document(SEAT).past.trace("jaws.bite")
    told = [item.change.new for item in traced if not item.change.is_unreadable_text]
    assert told == [Decimal("7.5")]
    assert plain_git(folder, "status", "--porcelain") == ""


@pytest.mark.parametrize(
    ("error", "words"),
    [(OSError(28, "No space left on device"), "the disk refused: No space left on device"),
     (PermissionError(13, "Permission denied"), "may not write here")],
)  # fmt: skip
def test_a_disk_that_refuses_while_a_file_is_put_back_is_told(
    at, folder, monkeypatch, error, words
):
    mira = at("mira")
    edit(folder, "rack 4", "rack 5")

    def refuses(*_):
        raise error

    monkeypatch.setattr(hand_edits, "write_file", refuses)
    with pytest.raises((BookError, NoRight), match=words) as caught:
        mira.document(SEAT).on_disk.put_back()
    assert "The file is as it was found, or as it was inked." in caught.value.hint
    assert "rack 5" in (folder / PATH).read_text()
