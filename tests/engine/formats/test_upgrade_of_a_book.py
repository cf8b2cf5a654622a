"""`upgrade`: shown first, one commit, no value changed, nothing voided, nobody's work touched."""

from __future__ import annotations

import pytest

from schemas.errors import Refused
from schemas.rewriting import rewritten
from tests.engine.formats.conftest import CAP, LONG, SHORT
from tests.mini_book import plain_git


def told(book):
    """What must not change: values, traces, states, history, marks of people."""
    listed = [
        (i.record, i.signed_off, i.changed_since_run, i.confirmed) for i in book.list_records()
    ]
    records = [book.document(name) for name in (CAP, LONG, SHORT)]
    return (
        listed,
        [record.values() for record in records],
        [record.past.trace(address) for record in records for address in ("jaws", "tray")],
        [records[0].past.trace("format"), records[0].runs.all(), records[1].runs.log()],
        list(book.every_change()),
        [(d.document, [(m.address, m.value, m.inked, m.contested) for m in d.marks])
         for d in book.drafts()],
    )  # fmt: skip


def test_it_shows_first_and_writes_nothing(old):
    book = old("pelle")
    shown = book.upgrade()
    assert [(f.path, f.old, f.new) for f in shown.files] == [
        (f"records/{name}.toml", 1, 2) for name in (CAP, SHORT, LONG)
    ]
    assert shown.files[0].names == (
        ("jaws.place", "jaws.kept_at"),
        ("fingers.blank.place", "fingers.blank.kept_at"),
        ("fingers.part.place", "fingers.part.kept_at"),
        ("tray.place", "tray.kept_at"),
    )
    assert (shown.left, shown.commit, book.refresh()) == ((), "", False)


def test_it_is_one_commit_that_changes_no_value_and_voids_nothing(old, old_book):
    vera, noor = old("vera"), old("noor")
    vera.document(CAP).pencil.set("positions.nest.drop", "131.7")
    noor.document(SHORT).pencil.set("tray.kept_at", "bay K")
    before, head, count = told(noor), noor.head, len(noor.document(LONG).past.marks())
    texts = {name: (old_book / f"records/{name}.toml").read_text() for name in (CAP, LONG, SHORT)}
    done = noor.upgrade(ink=True)
    assert plain_git(old_book, "log", "--format=%H", f"{head}..").split() == [done.commit]
    assert "Kind: upgrade" in plain_git(old_book, "log", "-1", "--format=%B")
    assert told(noor) == before
    vera.refresh()
    assert [m.address for m in vera.document(CAP).pencil.draft().marks] == ["positions.nest.drop"]
    past = vera.document(CAP).past
    assert past.compare("ink-1", "now").changes == past.compare("ink-1", "ink-9").changes
    assert vera.document(LONG).past.compare("sign-off-1", "now").respelt == 0
    assert len(noor.document(LONG).past.marks()) == count + 1
    for name, text in texts.items():
        wanted = text.replace("format = 1", "format = 2").replace("\nplace = ", "\nkept_at = ")
        wanted = wanted.replace("place   = ", "kept_at   = ")
        assert (old_book / f"records/{name}.toml").read_text() == wanted
    assert plain_git(old_book, "status", "--porcelain") == ""
    again = noor.upgrade(ink=True)
    assert (again.files, again.left, again.commit) == ((), (), "")
    vera.document(CAP).ink("as it was pencilled")


def test_only_a_lead_does_it(old):
    for person in ("vera", "pelle"):
        with pytest.raises(Refused):
            old(person).upgrade(ink=True)


def test_a_file_that_is_not_as_inked_is_left_and_named(old, old_book):
    noor = old("noor")
    file = old_book / f"records/{CAP}.toml"
    file.write_text(file.read_text().replace("cupboard 9", "cupboard 1"))
    (old_book / f"records/{LONG}.toml").unlink()
    done = noor.upgrade(ink=True)
    assert [f.document for f in done.files] == [SHORT]
    assert [(item.document, item.why) for item in done.left] == [
        (CAP, "the file on disk is not as inked"), (LONG, "the file on disk is not as inked"),
    ]  # fmt: skip
    assert "cupboard 1" in file.read_text()
    assert [c.new for c in noor.document(CAP).on_disk.found().changes] == ["cupboard 1"]


def test_a_text_that_cannot_be_used_is_left_and_named(old, old_book):
    file = old_book / f"records/{SHORT}.toml"
    file.write_text(file.read_text().replace("count = 1", "count = 1.5"))
    plain_git(old_book, "commit", "-qam", "by hand")
    done = old("noor").upgrade()
    assert [(item.document, item.why[:16]) for item in done.left] == [(SHORT, "it cannot be use")]


def test_a_text_that_cannot_be_read_at_all_is_left_and_named(old, old_book):
    file = old_book / f"records/{SHORT}.toml"
    file.write_text("<<<<<<< here\n" + file.read_text())
    plain_git(old_book, "commit", "-qam", "by hand")
    done = old("noor").upgrade()
    assert [(item.document, item.why[:16]) for item in done.left] == [(SHORT, "it cannot be use")]


RECORD = '[record]\nid = "wm-abcdef"\npart = "x"\ncell = "c"\nunits = "mm"\n'


@pytest.mark.parametrize(
    ("old_text", "new_text"),
    [
        ("format = 1\n", "format = 2\n"),
        ("# format = 1\n  format=1 # 1\n", "# format = 1\n  format=2 # 1\n"),
        ("format = 1\njaws.place = 'x'#y\n", "format = 2\njaws.kept_at = 'x'#y\n"),
        ("format = 1\nlot.quantity = 7_0 # no\n", "format = 2\nlot.quantity = 7_0 # no\n"),
        ("format = 1\n[fingers]\nplace . place = 'place = 3'\n",
         "format = 2\n[fingers]\nplace . kept_at = 'place = 3'\n"),
        ('format = 1\n[tray]\nplate = """\nplace = 1"""\n place=  "y"\n',
         'format = 2\n[tray]\nplate = """\nplace = 1"""\n kept_at=  "y"\n'),
        ('format = 1\n[jaws]\n"place" = "x"\n', None),
        ('format = 1\n[fingers]\nblank = {place = "x"}\n', None),
    ],
)  # fmt: skip
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_only_numbers_of_formats_and_names_are_written_anew(old_text, new_text, end):
    made = rewritten((old_text + RECORD).replace("\n", end).encode(), "records/a.toml")
    wanted = None if new_text is None else (new_text + RECORD).replace("\n", end).encode()
    assert made == wanted
