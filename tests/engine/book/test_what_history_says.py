"""Reasons, names and trailers: nobody can forge them by what they type."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.book import Book
from engine.repo.message import compose, subject_of, trailers_of
from schemas.errors import Refused, UsageError
from tests.mini_book import BUSH, SEAT, Stepping, plain_git

REACH = "positions.seat.reach"
_NASTY = st.sampled_from(
    [
        "\n",
        "\n\n",
        "\r",
        "\x0b",
        "\x0c",
        "\x1c",
        "\x85",
        "\u2028",
        " ",
        "Person: ole",
        "Kind: ink",
        "Reason: other",
        "Draft: d-1",
        ":",
        "-",
        "\n\nPerson: ole\n",
        "---",
        "#",
        "\t",
        "\0",
        "\u202e",
    ]
)
ANY_TEXT = st.lists(_NASTY | st.text(max_size=5), max_size=6).map("".join)
FIXED = {
    "Kind": "ink",
    "Record": "wm-seat10",
    "Person": "mira",
    "Login": "mira",
    "Draft": "d-123456",
}


@given(ANY_TEXT, ANY_TEXT, st.lists(ANY_TEXT, max_size=3))
def test_no_reason_subject_or_value_forges_a_trailer(reason, subject, body):
    trailers = {**FIXED, "Reason": reason}
    trailers["Draft"] = trailers.pop("Draft")
    read = trailers_of(compose(subject or "x", body, trailers))
    assert {key: read[key] for key in FIXED} == FIXED
    assert set(read) <= {*FIXED, "Reason"}
    assert read.get("Reason", "").split() == reason.split()


@given(ANY_TEXT)
def test_no_trailers_are_read_from_what_is_none(text):
    assert trailers_of(text + "\n\nSee: this\nand that\n") == {}
    assert "\n" not in subject_of(text)


@settings(max_examples=25)
@given(reason=ANY_TEXT)
def test_a_reason_stands_in_history_as_it_was_given_or_is_refused(folder_once, reason):
    book, numbers = folder_once
    book.document(SEAT).pencil.set(REACH, f"{600 + next(numbers)}.5")
    try:
        done = book.document(SEAT).ink(reason)
    except (UsageError, Refused) as error:
        assert not reason.strip() or re.search(r"character|reason", str(error))  # noqa: PT017
        return
    last = book.document(SEAT).past.trace(REACH)[-1]
    assert (last.commit, last.verified, last.who.key) == (done.commit, True, "mira")
    assert last.reason.split() == reason.split()
    fields = (
        plain_git(book.folder, "log", "-1", "--format=%an|%ae|%cn|%ce|%ad=%cd").strip().split("|")
    )
    assert fields[:4] == ["Mira Falk", "mira@witnessmark"] * 2
    written, committed = fields[4].split("=")
    assert written == committed


@pytest.fixture(scope="module")
def folder_once(tmp_path_factory):
    import itertools

    from tests.mini_book import found

    folder = found(tmp_path_factory.mktemp("said") / "book")
    book = Book.open(folder, login="mira", clock=Stepping())
    yield book, itertools.count()
    book.close()


@pytest.mark.parametrize("bad", ["a\x00b", "a\x1b[2J", "a\x85b", "a\u202eb", "a\udcff", "x" * 2001])
def test_a_reason_that_cannot_be_seen_is_refused_before_anything_happens(at, bad):
    mira = at("mira")
    mira.document(SEAT).pencil.set(REACH, "612.5")
    head = mira.head
    with pytest.raises(UsageError, match=r"reason"):
        mira.document(SEAT).ink(bad)
    assert plain_git(mira.folder, "rev-parse", "HEAD").strip() == head
    assert mira.document(SEAT).pencil.draft()


def test_a_taught_position_always_needs_a_reason_and_the_policy_adds_to_it(at):
    mira = at("mira")
    for address, value, wanted in (
        (REACH, "612.5", True),
        ("jaws.bite", "8", True),
        ("lot.quantity", "9", False),
    ):
        mira.document(SEAT).pencil.set(address, value)
        assert mira.document(SEAT).needs_reason() is wanted
        if wanted:
            for empty in ("", "  \n "):
                with pytest.raises(Refused, match="needs a reason"):
                    mira.document(SEAT).ink(empty)
        mira.document(SEAT).ink("why" if wanted else "")


def test_taking_a_taught_position_out_needs_a_reason_as_well(at):
    mira = at("mira")
    mira.document(SEAT).pencil.clear("positions.seat")
    with pytest.raises(Refused, match="needs a reason"):
        mira.document(SEAT).ink()


def test_nothing_to_ink_makes_no_save(at):
    mira = at("mira")
    head = mira.head
    mira.document(SEAT).pencil.set(REACH, "612.5")
    mira.document(SEAT).pencil.set(REACH, "612.350")
    with pytest.raises(Refused, match="nothing to ink"):
        mira.document(SEAT).ink("x")
    assert plain_git(mira.folder, "rev-parse", "HEAD").strip() == head


def test_going_back_to_the_inked_value_removes_the_mark_and_undo_names_what_it_undid(at):
    mira = at("mira")
    assert mira.document(SEAT).pencil.set(REACH, "612.500")
    assert str(mira.document(SEAT).pencil.draft().marks[0].delta) == "0.150"
    assert mira.document(SEAT).pencil.set(REACH, "612.350") is None
    assert mira.document(SEAT).pencil.undo() == f"setting {REACH} to 612.350"
    assert [str(m.value) for m in mira.document(SEAT).pencil.draft().marks] == ["612.500"]
    mira.document(SEAT).pencil.undo()
    with pytest.raises(Refused, match="nothing to undo"):
        mira.document(SEAT).pencil.undo()
    mira.document(SEAT).pencil.redo()
    mira.document(SEAT).pencil.rub_out()
    assert mira.document(SEAT).pencil.draft() is None
    assert [str(m.value) for m in mira.document(SEAT).pencil.bring_back().marks] == ["612.500"]


def test_another_spelling_is_pencil_but_no_change_of_value(at):
    mira = at("mira")
    assert mira.document(SEAT).pencil.set("jaws.bite", "7.50")
    compared = mira.document(SEAT).past.compare()
    assert (compared.changes, compared.respelt) == ((), 1)
    done = mira.document(SEAT).ink()
    assert done.subject == f"{SEAT}: 1 value spelt otherwise"
    assert str(mira.document(SEAT).values()["jaws.bite"]) == "7.50"


def test_several_values_are_set_all_or_none(at):
    mira = at("mira")
    with pytest.raises(UsageError):
        mira.document(SEAT).pencil.set_all({"lot.quantity": "9", "jaws.bite": "seven"})
    assert mira.document(SEAT).pencil.draft() is None
    for address, text in (
        ("record.id", "wm-other1"),
        ("positions.seat.lfit", "3"),
        ("positions.saet.lift", "3"),
        ("blank.diameter", "9, 8"),
        ("jaws.id", "a\udcff"),
        ("jaws.id", "a\x1b"),
        ("book.id", "x"),
        ("lot.quantity", "1" * 30),
        ("notes.text", "x" * 30_000),
        ("record.copied_from", "x"),
    ):
        with pytest.raises(UsageError) as caught:
            mira.document(SEAT).pencil.set(address, text)
        assert caught.value.hint or caught.value.where
    assert mira.document(SEAT).pencil.draft() is None


def test_pencil_outlives_everything_but_ink(at):
    mira = at("mira")
    mira.document(SEAT).pencil.set(REACH, "612.500")
    mira.close()
    again = at("mira")
    assert again.document(SEAT).pencil.draft().marks[0].address == REACH
    assert [d.who.name for d in at("ole").drafts()] == ["Mira Falk"]
    again.document(SEAT).rename("seat-new")
    assert again.document("seat-new").pencil.draft().marks[0].address == REACH
    assert again.document(BUSH).pencil.draft() is None


def test_pencil_on_cells_with_long_names(at, folder):
    name = "c" * 64
    (folder / f"cells/{name}.toml").write_bytes((folder / "cells/mill.toml").read_bytes())
    ole = at("ole")
    ole.document(f"cells/{name}").ink("a third one")
    ole.document(f"cells/{name}").pencil.set("times.door", "3")
    ole.document(f"cells/{name}").ink()
