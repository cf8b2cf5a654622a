"""A sign-off covers values: neither spelling, comments nor formats void it; what was void stays."""

from __future__ import annotations

import hashlib
from decimal import Decimal

import pytest

from schemas.canonical import canonical_lines, hash_of_values
from schemas.document import FORMATS
from tests.engine.formats.conftest import CAP, LONG
from tests.mini_book import SEAT, SEAT_ID, plain_git

PATH = f"records/{LONG}.toml"


def state(book, name=LONG):
    book.refresh()
    return next(i for i in book.list_records(findings=False) if i.record == name).signed_off


def by_hand(folder, path, old, new):
    text = (folder / path).read_text()
    assert old in text
    (folder / path).write_text(text.replace(old, new, 1))
    plain_git(folder, "commit", "-qam", "by hand")


def test_an_old_sign_off_holds_through_everything_that_changes_no_value(old, old_book):
    noor = old("noor")
    assert state(noor) == "yes"
    by_hand(old_book, PATH, "format = 1\n", "# read back\nformat = 1\n")
    by_hand(old_book, PATH, "bite = 5.5\n", "bite = 5.50 # mm\n")
    by_hand(old_book, "book.toml", "stale_pencil_days = 5", "stale_pencil_days = 5.0")
    by_hand(old_book, "cells/yard-mill.toml", "mass = 3.15", "mass =  3.150")
    assert state(noor) == "yes"
    noor.upgrade(ink=True)
    assert state(noor) == "yes"
    noor.document(LONG).pencil.set("jaws.bite", "5.6")
    noor.document(LONG).ink("more")
    assert state(noor) == "void"
    noor.document(LONG).restore("sign-off-2", reason="as it was")
    assert state(noor) == "yes"


@pytest.mark.parametrize("what", ["record", "kept at", "cell", "policy", "program", "photo"])
def test_an_old_sign_off_is_void_when_what_it_covers_changes(old, old_book, what):
    noor = old("noor")
    if what == "program":
        (old_book / "programs/yc744.nc").write_bytes(b"%\nM30\n")
        noor.document(LONG).ink()
    elif what == "photo":
        (old_book / "photos/yc744-tray.jpg").write_bytes(b"no picture")
        noor.document(LONG).ink()
    else:
        name, address, value = {
            "record": (LONG, "lot.quantity", "5"),
            "kept at": (LONG, "tray.place", "bay Z"),
            "cell": ("cells/yard-mill", "axes.drop.speed", "600"),
            "policy": ("book", "policy.hold_safety", "1.7"),
        }[what]
        noor.document(name).pencil.set(address, value)
        noor.document(name).ink("x")
    assert state(noor) == "void"
    noor.upgrade(ink=True)
    assert state(noor) == "void"


@pytest.mark.parametrize("part", ["record", "policy", "cell", "program", "tray"])
def test_an_old_sign_off_that_never_fitted_its_revision_stays_void(old, old_book, part):
    noor = old("noor")
    file = max((old_book / "signoffs/wm-slv3e9").iterdir())
    lines = file.read_text().split("\n")
    n = next(n for n, line in enumerate(lines) if line.startswith(f'{part} = "') and len(line) > 70)
    lines[n] = f'{part} = "{"0" * 64}"'
    file.write_text("\n".join(lines))
    plain_git(old_book, "commit", "-qam", "a sign-off by hand")
    assert state(noor) == "void"
    noor.upgrade(ink=True)
    assert state(noor) == "void"


def test_a_void_one_stays_void(old):
    noor = old("noor")
    assert state(noor, CAP) == "void"
    noor.upgrade(ink=True)
    assert state(noor, CAP) == "void"


def test_a_sign_off_names_a_revision_that_history_has(old, old_book):
    file = max((old_book / "signoffs/wm-slv3e9").iterdir())
    commit = file.read_text().partition('commit = "')[2][:40]
    by_hand(old_book, str(file.relative_to(old_book)), commit, "0" * 40)
    assert state(old("noor")) == "void"


def test_a_new_sign_off_is_a_hash_of_values(at, folder):
    ole = at("ole")
    ole.document(SEAT).sign_off("looks right")
    (file,) = (folder / f"signoffs/{SEAT_ID}").iterdir()
    text = file.read_text()
    assert text.startswith("format = 2\n")
    covered = hash_of_values(ole.document(SEAT).values())
    assert f'record = "{covered}"' in text
    assert "[accepted.formats]\ncell = 1\npolicy = 1\nrecord = 2\n" in text
    by_hand(folder, f"records/{SEAT}.toml", "bite = 7.5\n", "bite = 7.500 # deep\n")
    by_hand(folder, "cells/lathe.toml", "mass = 2", "mass = 2.0")
    assert state(ole, SEAT) == "yes"
    by_hand(folder, "cells/lathe.toml", "mass = 2.0", "mass = 2.1")
    assert state(ole, SEAT) == "void"


def test_a_hash_of_another_format_of_the_schema_is_worked_out_again(at, folder, monkeypatch):
    ole = at("ole")
    ole.document(SEAT).sign_off("looks right")
    (file,) = (folder / f"signoffs/{SEAT_ID}").iterdir()
    path = str(file.relative_to(folder))
    by_hand(folder, path, "record = 2", "record = 1")  # its addresses were renamed since
    covered = hash_of_values(ole.document(SEAT).values())
    other = file.read_text().replace(f'record = "{covered}"', f'record = "{"f" * 64}"')
    file.write_text(other)
    plain_git(folder, "commit", "-qam", "by hand")
    assert state(ole, SEAT) == "yes"
    ole.document(SEAT).pencil.set("lot.quantity", "5")
    ole.document(SEAT).ink()
    assert state(ole, SEAT) == "void"


def test_the_canonical_form():
    values = {
        "format": 2,
        "b": Decimal("28.0"), "a.c": Decimal("28"), "a.b": [Decimal("1.50"), 2, "x"],
        "n": Decimal("-0.00"), "t": True, "s": 'a"\nb', "z": Decimal("100"), "o": Decimal("0.100"),
    }  # fmt: skip
    lines = ['a.b = [1.5, 2, "x"]', "a.c = 28", "b = 28", "n = 0", "o = 0.1", 's = "a\\"\\nb"',
             "t = true", "z = 100"]  # fmt: skip
    assert canonical_lines(values) == lines
    text = "".join(f"{line}\n" for line in lines)
    assert hash_of_values(values) == hashlib.sha256(text.encode()).hexdigest()
    assert hash_of_values({**values, "format": 9}) == hash_of_values(values)
    assert hash_of_values({**values, "b": "28"}) != hash_of_values(values)
    assert FORMATS["sign-off"] == 2
