"""A handle is one document, whatever anybody does to its name or its file meanwhile."""

import pytest

from schemas.errors import Gone, UsageError
from tests.mini_book import BUSH, SEAT, plain_git

REACH = "positions.seat.reach"


def test_a_handle_goes_on_after_a_rename_by_anybody(at):
    mira, ole = at("mira"), at("ole")
    record = mira.document(SEAT)
    record.pencil.set(REACH, "613")
    ole.document(SEAT).rename("seat-new")
    assert record.name == "seat-new"
    done = record.ink("rubbed")
    assert done.document == "seat-new"
    record.rename("seat-newer")
    assert str(record.values()[REACH]) == "613"
    assert [mark.name for mark in record.past.marks()][:1] == ["ink-4"]


def test_a_handle_is_found_by_name_path_and_identity(at):
    mira = at("mira")
    key = mira.document(SEAT).values()["record.id"]
    for asked in (SEAT, f"{SEAT}.toml", f"records/{SEAT}.toml", key):
        assert mira.document(asked).name == SEAT
    assert mira.document("cells/lathe").name == "cells/lathe"
    with pytest.raises(UsageError, match="no record") as caught:
        mira.document("seat-op11")
    assert SEAT in caught.value.hint


def test_what_a_handle_hands_out_is_of_the_present_head(at):
    mira, ole = at("mira"), at("ole")
    record = mira.document(SEAT)
    assert record.past.show().commit == mira.head
    ole.document(SEAT).pencil.set("lot.quantity", "7")
    done = ole.document(SEAT).ink()
    assert record.past.show().commit == done.commit
    assert record.pencil.values()["lot.quantity"] == 7
    assert record.values()["lot.quantity"] == 7


def test_a_name_that_somebody_else_took_is_another_document(at):
    """The name is given away: the handle stays with its record, not with the name."""
    mira, ole = at("mira"), at("ole")
    record = mira.document(SEAT)
    key = record.values()["record.id"]
    ole.document(SEAT).rename("seat-old")
    ole.document(BUSH).rename(SEAT)
    assert record.name == "seat-old"
    assert record.values()["record.id"] == key
    assert mira.document(SEAT).values()["record.id"] != key


def test_a_document_that_is_gone_is_told_by_its_name(at, folder):
    mira = at("mira")
    record = mira.document(SEAT)
    plain_git(folder, "rm", "-q", f"records/{SEAT}.toml")
    plain_git(folder, "commit", "-q", "-m", "thrown away")
    with pytest.raises(UsageError, match=f"{SEAT} is not in the book any more"):
        record.values()


def test_who_gave_it_its_name_is_told_and_who_took_it_out(at, folder):
    mira, ole = at("mira"), at("ole")
    record = mira.document(SEAT)
    assert record.past.named_by() is None
    ole.document(SEAT).rename("seat-new")
    mira.document("seat-new").pencil.set(REACH, "613")
    mira.document("seat-new").ink("rubbed")
    named = record.past.named_by()
    assert named is not None
    assert named.who.key == "ole"
    plain_git(folder, "mv", "records/seat-new.toml", "records/seat-by-hand.toml")
    plain_git(folder, "commit", "-q", "-m", "moved by hand")
    by_hand = record.past.named_by()
    assert by_hand is not None
    assert by_hand.id == mira.head
    plain_git(folder, "rm", "-q", "records/seat-by-hand.toml")
    plain_git(folder, "commit", "-q", "-m", "thrown away")
    with pytest.raises(Gone, match="was taken out") as caught:
        record.values()
    assert "is kept" in caught.value.hint


def test_a_document_is_found_by_its_identity_and_not_by_the_name_it_had(at):
    mira, ole = at("mira"), at("ole")
    key = mira.document(SEAT).key
    ole.document(SEAT).rename("seat-old")
    ole.document(BUSH).rename(SEAT)
    assert mira.document(SEAT, key).name == "seat-old"
    assert mira.document(SEAT).key != key
    assert mira.document("cells/lathe", "cells/lathe").name == "cells/lathe"
    with pytest.raises(Gone):
        mira.document("cells/other", "cells/other")


def test_a_look_tells_what_came_since_the_last_look_whatever_was_asked_between(at):
    mira, ole = at("mira"), at("ole")
    assert not mira.refresh()
    ole.document(SEAT).pencil.set(REACH, "613")
    assert mira.refresh()  # made before the first look that could have seen it
    assert not mira.refresh()
    ole.document(SEAT).ink("rubbed")
    assert mira.document(SEAT).values()[REACH] == 613  # this question moved to the new head
    assert mira.refresh()
    assert not mira.refresh()


def test_pencil_before_the_first_look_is_news(at):
    mira = at("mira")
    at("ole").document(SEAT).pencil.set(REACH, "613")
    assert mira.refresh()


def test_of_two_files_with_one_identity_a_handle_keeps_to_its_own(at, folder):
    text = (folder / f"records/{SEAT}.toml").read_text()
    (folder / "records/by-hand.toml").write_text(text.replace("quantity = 110", "quantity = 1"))
    plain_git(folder, "add", "records/by-hand.toml")
    plain_git(folder, "commit", "-q", "-m", "copied by hand")
    mira = at("mira")
    own, copied = mira.document(SEAT), mira.document("by-hand")
    assert (own.values()["lot.quantity"], copied.values()["lot.quantity"]) == (110, 1)
    own.pencil.set(REACH, "613")
    assert own.ink("rubbed").document == SEAT


def test_a_file_that_lies_on_disk_only_can_be_inked_and_nothing_else(at, folder):
    text = (folder / f"records/{SEAT}.toml").read_text()
    (folder / "records/found.toml").write_text(text.replace("wm-seat10", "wm-fnd000"))
    mira = at("mira")
    record = mira.document("found")
    with pytest.raises(UsageError, match="no record"):
        record.values()
    assert record.ink("it lay there").subject == "found: new, found on disk"
    assert record.values()["record.id"] == "wm-fnd000"
    assert record.name == "found"
