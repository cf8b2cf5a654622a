"""What a person types at an address becomes a value of the right kind, or a refusal."""

import sys
from datetime import date
from decimal import Decimal
from pathlib import Path
from types import ModuleType

import pytest

from schemas import record
from schemas.errors import ValueRefused
from schemas.people import People
from schemas.record import CLASSES, Record, is_coupled, is_link, is_reading
from schemas.typed import describe_known, read_as


def typed(address, text, model=Record):
    return read_as(describe_known(model, address), text)


@pytest.mark.parametrize(
    ("address", "text", "value"),
    [
        ("positions.seat.reach", "612.350", Decimal("612.350")),
        ("jaws.count", " 3 ", 3),
        ("record.retired", "Yes", True),
        ("jaws.kind", "VICE", "vice"),
        ("tray.unused", "[r1c1, r2c2]", ["r1c1", "r2c2"]),
        ("lot.stages", "8, 30,70", [Decimal(8), Decimal(30), Decimal(70)]),
        ("blank.diameter", "71.60 , 72", [Decimal("71.60"), Decimal(72)]),
        ("jaws.id", "=1+1", "=1+1"),
    ],
)
def test_what_is_typed_is_read(address, text, value):
    read = typed(address, text)
    assert read == value
    assert type(read) is type(value)


def test_dates_are_read():
    assert typed("people.ada.left_on", "2026-03-02", People) == date(2026, 3, 2)
    assert typed("people.ada.roles", "setter, lead", People) == ["setter", "lead"]


@pytest.mark.parametrize(
    ("address", "text", "words"),
    [
        ("positions.seat.reach", "612,350", "comma"),
        ("positions.seat.reach", "612 mm", "not a number"),
        ("jaws.count", "2.5", "whole"),
        ("record.retired", "perhaps", "yes nor no"),
        ("jaws.kind", "hand", "choices"),
        ("lot.stages", "8, x", "not a number"),
    ],
)
def test_what_does_not_suit_is_refused_with_a_hint(address, text, words):
    with pytest.raises(ValueRefused, match=words) as caught:
        typed(address, text)
    assert caught.value.where == address
    assert caught.value.hint


@pytest.mark.parametrize(
    ("address", "hint"),
    [
        ("jaws.bight", "jaws.bite"),
        ("jaw", "jaws"),
        ("jaws", "below it"),
        ("a..b", ""),
        ("", ""),
        ("positions.seat", "below it"),
        ("positions.seat.reach.more", ""),
        ("jaws.bite.x", ""),
    ],
)
def test_an_address_that_holds_nothing_names_the_nearest(address, hint):
    with pytest.raises(ValueRefused) as caught:
        describe_known(Record, address)
    assert hint in caught.value.hint


@pytest.mark.parametrize(
    ("address", "coupled"),
    [
        ("jaws.bite", True),
        ("jaws.kept_at", False),
        ("positions.seat.reach", True),
        ("lot.quantity", False),
        ("fingers.blank.friction", False),
        ("fingers.blank.bite", True),
        ("approach.seat.speed", False),
        ("approach.seat.stand_off", True),
        ("blank.material", False),
        ("notes.text", False),
    ],
)
def test_what_belongs_together_physically(address, coupled):
    assert is_coupled(address) is coupled


def test_each_field_says_its_class_and_no_coupled_value_is_a_reading():
    for address, said in CLASSES.items():
        known = address.replace("*", "x")
        assert (is_coupled(known), is_reading(known)) == (said == "coupled", said == "reading")
    readings = {address for address, said in CLASSES.items() if said == "reading"}
    assert readings == {
        "offsets.*.*", "tools.*.length", "jaws.kept_at", "fingers.*.kept_at", "tray.kept_at",
    }  # fmt: skip


def test_a_field_without_a_class_is_refused_at_import(monkeypatch):
    text = Path(record.__file__).read_text()
    lot = "class Lot(Section):"
    text = text.replace(lot, f"{lot}\n    fresh: int | None = field('a new one')\n", 1)
    module = ModuleType("another_record")
    monkeypatch.setitem(sys.modules, "another_record", module)
    with pytest.raises(TypeError, match=r"lot\.fresh: say whether it is coupled"):
        exec(compile(text, "another_record.py", "exec"), module.__dict__)


def test_links():
    assert is_link("program.file")
    assert is_link("photos.jaws.file")
    assert not is_link("photos.jaws.sha256")
    assert not is_link("photos.file")
