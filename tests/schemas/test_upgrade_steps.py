"""Old formats: read as the present one, traced through, merged, written anew.

Format 0 never existed: it calls `jaws.bite` `jaws.grip` and `lot.quantity` `lot.count`, and
what is kept somewhere has a `place`, as in format 1, which did exist.
"""

from __future__ import annotations

import pytest

from engine.book import Book
from schemas import upgrade
from schemas.document import FORMATS, MODELS, read_document
from schemas.errors import ReadError
from tests.mini_book import SEAT, Stepping, plain_git

NAMES = {"jaws.grip": "jaws.bite", "lot.count": "lot.quantity"}
PATH = f"records/{SEAT}.toml"


@pytest.fixture
def old_format(monkeypatch):
    monkeypatch.setitem(upgrade.STEPS, ("record", 0), upgrade.renaming(NAMES, 1))


def in_format_0(text: str) -> str:
    return (
        text.replace("format = 2", "format = 0")
        .replace("\nkept_at = ", "\nplace = ")
        .replace("\nbite = 7.5", "\ngrip = 7.5")
        .replace("\nquantity = ", "\ncount = ")
    )


def test_an_old_text_reads_as_the_present_format(folder, old_format):
    text = (folder / PATH).read_text()
    old = read_document(in_format_0(text).encode(), PATH)
    assert old.bytes.decode() == text
    assert old.values["format"] == 2


def test_lines_and_comments_of_an_old_text_have_the_present_addresses(folder, old_format):
    text = in_format_0((folder / PATH).read_text())
    line = text.split("\n").index("grip = 7.5") + 1
    with pytest.raises(ReadError) as info:
        read_document(text.replace("grip = 7.5", 'grip = "deep"').encode(), PATH)
    assert [(p.address, p.line) for p in info.value.problems] == [("jaws.bite", line)]
    seen = read_document(text.replace("grip = 7.5", "grip = 7.5 # as drawn").encode(), PATH)
    assert seen.comments == ((line, "jaws.bite", "as drawn"),)


def test_steps_follow_one_another(monkeypatch):
    monkeypatch.setitem(upgrade.STEPS, ("record", -1), upgrade.renaming({"a.x": "a.y"}, 0))
    monkeypatch.setitem(upgrade.STEPS, ("record", 0), upgrade.renaming({"a.y": "b.z"}, 1))
    start = {"format": -1, "a": {"x": 5}}
    tree, _ = upgrade.upgrade("record", start, upgrade.TextLayout())
    assert tree == {"format": 2, "b": {"z": 5}}
    assert start == {"format": -1, "a": {"x": 5}}


@pytest.mark.parametrize("number", ["0", "3", "true", "1.0"])
def test_a_format_that_is_not_known_is_told(folder, number):
    text = (folder / PATH).read_text().replace("format = 2", f"format = {number}")
    with pytest.raises(ReadError, match="this format of the file is not known"):
        read_document(text.encode(), PATH)


def test_a_trace_goes_through_the_change_of_format(folder, old_format):
    file = folder / PATH
    for quantity in (111, 132):
        text = file.read_text().replace("quantity = 110", f"quantity = {quantity}")
        file.write_text(in_format_0(text.replace("count = 111", f"count = {quantity}")))
        plain_git(folder, "commit", "-q", "-a", "-m", f"quantity {quantity}")
    book = Book.open(folder, login="mira", clock=Stepping())
    assert book.document(SEAT).values()["lot.quantity"] == 132
    book.document(SEAT).pencil.set("jaws.bite", "8.0")
    book.document(SEAT).ink("deeper")
    assert "format = 2" in file.read_text()
    assert "bite = 8.0" in file.read_text()
    assert [item.change.new for item in book.document(SEAT).past.trace("lot.quantity")] == [
        110,
        111,
        132,
    ]
    assert [str(item.change.new) for item in book.document(SEAT).past.trace("jaws.bite")] == [
        "7.5",
        "8.0",
    ]
    assert book.document(SEAT).past.trace("format")[0].change.new == 2
    assert len(book.document(SEAT).past.trace("format")) == 1
    assert [c.address for c in book.document(SEAT).past.compare("ink-1").changes] == [
        "jaws.bite",
        "lot.quantity",
    ]
    book.close()


@pytest.mark.parametrize("kind", sorted(MODELS))
def test_steps_of_each_kind_lead_to_its_present_format(kind):
    starts = sorted(start for of, start in upgrade.STEPS if of == kind)
    assert starts == list(range(1, FORMATS[kind]))
    for start in starts:
        assert upgrade.upgrade(kind, {"format": start}, upgrade.TextLayout())[0] == {
            "format": FORMATS[kind]
        }


def test_what_is_kept_somewhere_had_a_place_in_format_1():
    tree = {
        "format": 1,
        "jaws": {"id": "C-3", "place": "rack 4", "bite": 5},
        "fingers": {"blank": {"place": "hook 1"}, "place": {"place": "hook 2"}},
        "tray": {"place": "bay 3"},
        "notes": {"place": "stays"},
    }
    new, _ = upgrade.upgrade("record", tree, upgrade.TextLayout())
    assert new == {
        "format": 2,
        "jaws": {"id": "C-3", "kept_at": "rack 4", "bite": 5},
        "fingers": {"blank": {"kept_at": "hook 1"}, "place": {"kept_at": "hook 2"}},
        "tray": {"kept_at": "bay 3"},
        "notes": {"place": "stays"},
    }
    assert list(new["jaws"]) == ["id", "kept_at", "bite"]
    cell = {"format": 1, "stations": {"seat": {"place": "jaws"}}}
    assert upgrade.upgrade("cell", cell, upgrade.TextLayout())[0] == cell


def test_of_two_names_for_one_value_nothing_is_lost_and_nothing_is_guessed():
    tree = {"format": 1, "jaws": {"place": "rack 4", "kept_at": "rack 5"}}
    new, _ = upgrade.upgrade("record", tree, upgrade.TextLayout())
    assert new["jaws"] == {"place": "rack 4", "kept_at": "rack 5"}
    text = 'format = 1\n[record]\nid = "wm-abcdef"\npart = "x"\ncell = "c"\nunits = "mm"\n'
    text += '[jaws]\nplace = "rack 4"\nkept_at = "rack 5"\n'
    with pytest.raises(ReadError) as info:
        read_document(text.encode(), PATH)
    assert [(p.address, p.line) for p in info.value.problems] == [("jaws.place", 8)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("jaws.place", "jaws.kept_at"),
        ("fingers.part.place", "fingers.part.kept_at"),
        ("fingers.place.place", "fingers.place.kept_at"),
        ("jaws.kept_at", "jaws.kept_at"),
        ("jaws.place.more", "jaws.place.more"),
        ("fingers.place", "fingers.place"),
        ("place", "place"),
    ],
)
def test_an_old_address_is_understood_as_the_present_one(old, new):
    assert upgrade.present("record", old) == new
    assert upgrade.covers("record", old, new)


def test_a_pattern_covers_a_value_by_each_name_that_it_had():
    for pattern in ("jaws.place", "*.place", "jaws", "*.kept_at"):
        assert upgrade.covers("record", pattern, "jaws.kept_at")
    assert upgrade.covers("record", "fingers.*.place", "fingers.part.kept_at")
    assert not upgrade.covers("record", "*.place", "fingers.part.kept_at")
    assert not upgrade.covers("record", "jaws.place", "jaws.bite")
    assert not upgrade.covers("cell", "stations.place", "stations.kept_at")
