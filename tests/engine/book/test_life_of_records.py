"""New, copy, rename, retire, restore: identity and bytes come back exactly."""

import pytest

from engine.book import Book
from schemas.errors import BookError, Refused, UsageError
from tests.mini_book import BUSH, SEAT, SEAT_ID, Stepping, files, picture, plain_git

REACH = "positions.seat.reach"


def on_disk(folder):
    """Every file of the book."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and ".git" not in path.parts
    }


def test_a_started_book_holds_its_files_to_the_byte(folder):
    assert on_disk(folder) == files()
    assert plain_git(folder, "status", "--porcelain") == ""
    assert plain_git(folder, "rev-list", "--count", "HEAD").strip() == "1"


def test_a_restored_record_is_the_old_one_to_the_byte_with_program_and_photo(at, folder):
    mira = at("mira")
    old = on_disk(folder)
    for n in range(3):
        (folder / "programs/seat.nc").write_bytes(f"O{n}\r\nM30\r\n".encode())
        (folder / "photos/seat-jaws.jpg").write_bytes(picture(50 + n))
        mira.document(SEAT).pencil.set(REACH, f"61{n}.5")
        mira.document(SEAT).pencil.clear("tools")
        mira.document(SEAT).pencil.set("tools.T09.length", str(n))
        mira.document(SEAT).ink(f"step {n}")
    middle = plain_git(folder, "show", "HEAD~1:programs/seat.nc")
    done = mira.document(SEAT).restore("ink-1", "", "as it last ran")
    assert on_disk(folder) == old
    assert {c.address for c in done.changes} == {
        REACH,
        "tools.T04.what",
        "tools.T04.stick_out",
        "tools.T09.length",
    }
    mira.document(SEAT).restore("ink-3", "", "no, the other one")
    assert (folder / "programs/seat.nc").read_text() == middle.replace("\r", "")
    assert plain_git(folder, "rev-list", "--count", "HEAD").strip() == "6"  # nothing is rewritten
    with pytest.raises(Refused, match="stands as it did"):
        mira.document(SEAT).restore("ink-3", "", "again")


def test_one_value_or_section_is_restored_alone(at, folder):
    mira = at("mira")
    mira.document(SEAT).pencil.set_all(
        {REACH: "1", "positions.seat.swing": "2", "lot.quantity": "3"}
    )
    mira.document(SEAT).ink("x")
    (folder / "programs/seat.nc").write_bytes(b"mine")
    mira.document(SEAT).restore("ink-1", "positions", "back")
    values = mira.document(SEAT).values()
    assert [str(values[a]) for a in (REACH, "positions.seat.swing", "lot.quantity")] == [
        "612.350",
        "87.420",
        "3",
    ]
    assert (folder / "programs/seat.nc").read_bytes() == b"mine"
    with pytest.raises(UsageError, match="nothing at"):
        mira.document(SEAT).restore("ink-1", "approach.nowhere", "back")


def test_a_program_that_is_gone_from_the_disk_comes_back(at, folder):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "3")
    mira.document(SEAT).ink()
    (folder / "programs/seat.nc").unlink()
    mira.document(SEAT).restore("ink-1", "", "back")
    assert on_disk(folder) == files()


def test_the_pencil_on_it_survives_a_restore(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set(REACH, "613")
    mira.document(SEAT).ink("x")
    mira.document(SEAT).pencil.set("notes.text", "mine")
    ole.document(SEAT).restore("ink-1", "", "back")
    assert [m.address for m in mira.document(SEAT).pencil.draft().marks] == ["notes.text"]
    mira.document(SEAT).ink()
    assert str(mira.document(SEAT).values()[REACH]) == "612.350"


def test_a_rename_keeps_identity_history_and_bytes(at, folder):
    mira = at("mira")
    data = (folder / f"records/{SEAT}.toml").read_bytes()
    mira.document(SEAT).rename("seat.B_op-10", "clearer")
    assert (folder / "records/seat.B_op-10.toml").read_bytes() == data
    assert not (folder / f"records/{SEAT}.toml").exists()
    assert plain_git(folder, "status", "--porcelain") == ""
    assert len(mira.document("seat.B_op-10").past.marks()) == 2
    assert len(mira.document("seat.B_op-10").past.trace(REACH)) == 1
    assert mira.document(SEAT_ID).values()["record.id"] == SEAT_ID
    assert str(mira.document("seat.B_op-10").values("ink-1")[REACH]) == "612.350"
    mira.document("seat.B_op-10").rename(SEAT)
    assert on_disk(folder) == files()


@pytest.mark.parametrize(
    "name",
    [
        BUSH,
        "BUSH-OP20",
        "people",
        "book",
        "cells/lathe",
        "cells/new",
        "records/x/y",
        "../x",
        ".x",
        "a b",
        "",
        "x" * 65,
        "x.toml",
        "runs/x",
        "-x",
        "x\n",
    ],
)
def test_a_bad_or_taken_name_is_refused(at, folder, name):
    mira = at("mira")
    for act in (
        lambda: mira.document(SEAT).rename(name),
        lambda: mira.document(SEAT).copy(name),
        lambda: mira.new(name, part="x", cell="lathe", units="mm"),
    ):
        with pytest.raises(UsageError):
            act()
    assert on_disk(folder) == files()


def test_a_file_that_lies_there_uninked_is_not_written_over(at, folder):
    (folder / "records/there.toml").write_text("somebody's")
    with pytest.raises(UsageError, match="already"):
        at("mira").document(SEAT).rename("there")
    assert (folder / "records/there.toml").read_text() == "somebody's"


def test_a_copy_says_where_it_came_from(at):
    mira = at("mira")
    head = mira.head
    mira.document(SEAT).copy("second", "another machine")
    old, new = mira.document(SEAT).values(), mira.document("second").values()
    assert new["record.copied_from"] == f"{SEAT_ID}@{head}"
    same = {a for a in old if old[a] == new.get(a)}
    assert set(old) - same == {"record.id"}
    with pytest.raises(UsageError):
        mira.document("people").copy("third")


def test_a_retired_record_leaves_the_list_and_nothing_else(at, folder):
    mira = at("mira")
    mira.document(SEAT).retire("job is over")
    assert [r.record for r in mira.list_records(findings=False)] == [BUSH]
    assert len(mira.list_records(findings=False, retired=True)) == 2
    with pytest.raises(Refused, match="already"):
        mira.document(SEAT).retire()
    mira.document(SEAT).retire(back=True)
    assert on_disk(folder) == files()


def test_a_new_record_has_only_what_it_was_given(at):
    mira = at("mira")
    mira.new("fresh", part="Cap", cell="mill", units="in", operation=20, reason="new job")
    assert mira.document("fresh").values().keys() == {
        "format",
        "record.id",
        "record.part",
        "record.operation",
        "record.cell",
        "record.units",
    }
    mira.document("fresh").runs.start()
    mira.document("fresh").runs.stop(1, 0)
    assert mira.document("fresh").layout()
    for bad in ({"cell": "moon"}, {"units": "ft"}, {"part": "a\x1b"}):
        with pytest.raises(UsageError):
            mira.new("other", **{"part": "x", "cell": "mill", "units": "mm", **bad})


def test_a_book_is_started_once(tmp_path):
    folder = tmp_path / "fresh"
    book = Book.start(folder, login="olé", name="Shop", clock=Stepping())
    assert book.identity.may_lead
    assert book.warnings() == []
    assert book.list_records() == []
    with pytest.raises(BookError, match="history already"):
        Book.start(folder, login="olé")
    book.document("book").pencil.set("policy.hold_safety", "2.5")
    book.document("book").ink()
    book.close()


def test_a_start_that_broke_off_is_begun_again(tmp_path):
    folder = tmp_path / "fresh"
    folder.mkdir()
    plain_git(folder, "init", "-q", ".")
    Book.start(folder, login="ole", clock=Stepping()).close()
    plain_git(folder, "checkout", "-q", "--orphan", "empty")
    with pytest.raises(BookError, match="history already"):
        Book.start(folder, login="ole")


def test_a_program_from_a_stick_leaves_the_status_clean(at, folder):
    (folder / "programs/seat.nc").write_bytes(b"O2\nM30\n")
    (folder / "programs/seat.nc").chmod(0o755)
    at("mira").document(SEAT).ink()
    assert plain_git(folder, "status", "--porcelain") == ""
