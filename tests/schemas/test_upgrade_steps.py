"""A made-up old format: read as the present one, traced through, merged, written anew.

Format 0 never existed. It calls `jaws.bite` `jaws.grip` and `lot.quantity` `lot.count`.
"""

from __future__ import annotations

import pytest

from engine.book import Book
from schemas import upgrade
from schemas.document import read_document
from schemas.errors import ReadError
from tests.mini_book import SEAT, Stepping, plain_git

NAMES = {"jaws.grip": "jaws.bite", "lot.count": "lot.quantity"}
PATH = f"records/{SEAT}.toml"


@pytest.fixture
def old_format(monkeypatch):
    monkeypatch.setitem(upgrade.STEPS, ("record", 0), upgrade.renaming(NAMES, 1))


def in_format_0(text: str) -> str:
    return (
        text.replace("format = 1", "format = 0")
        .replace("\nbite = 7.5", "\ngrip = 7.5")
        .replace("\nquantity = ", "\ncount = ")
    )


def test_an_old_text_reads_as_the_present_format(folder, old_format):
    text = (folder / PATH).read_text()
    old = read_document(in_format_0(text).encode(), PATH)
    assert old.bytes.decode() == text
    assert old.values["format"] == 1


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
    tree, _ = upgrade.upgrade("record", start, upgrade.Layout())
    assert tree == {"format": 1, "b": {"z": 5}}
    assert start == {"format": -1, "a": {"x": 5}}


@pytest.mark.parametrize("number", [0, 2])
def test_a_format_that_is_not_known_is_told(folder, number):
    text = (folder / PATH).read_text().replace("format = 1", f"format = {number}")
    with pytest.raises(ReadError, match="this format of the file is not known"):
        read_document(text.encode(), PATH)


def test_a_trace_goes_through_the_change_of_format(folder, old_format):
    file = folder / PATH
    for quantity in (131, 132):
        text = file.read_text().replace("quantity = 130", f"quantity = {quantity}")
        file.write_text(in_format_0(text.replace("count = 131", f"count = {quantity}")))
        plain_git(folder, "commit", "-q", "-a", "-m", f"quantity {quantity}")
    book = Book.open(folder, login="mira", clock=Stepping())
    assert book.document(SEAT).values()["lot.quantity"] == 132
    book.document(SEAT).pencil.set("jaws.bite", "8.0")
    book.document(SEAT).ink("deeper")
    assert "format = 1" in file.read_text()
    assert "bite = 8.0" in file.read_text()
    assert [item.change.new for item in book.document(SEAT).past.trace("lot.quantity")] == [
        130,
        131,
        132,
    ]
    assert [str(item.change.new) for item in book.document(SEAT).past.trace("jaws.bite")] == [
        "7.5",
        "8.0",
    ]
    assert book.document(SEAT).past.trace("format")[0].change.new == 1
    assert len(book.document(SEAT).past.trace("format")) == 1
    assert [c.address for c in book.document(SEAT).past.compare("ink-1").changes] == [
        "jaws.bite",
        "lot.quantity",
    ]
    book.close()
