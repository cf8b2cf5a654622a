"""What a person types at an address becomes a value of the right kind, or a refusal."""

from datetime import date
from decimal import Decimal

import pytest

from schemas.errors import ValueRefused
from schemas.people import People
from schemas.record import Record, is_coupled, is_link
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


def test_links():
    assert is_link("program.file")
    assert is_link("photos.jaws.file")
    assert not is_link("photos.jaws.sha256")
    assert not is_link("photos.file")
