"""What was committed by hand stays listable, told as what it is; the rest of the book is unharmed.

Each odd text is committed with plain git over the seat's record and mended by another
commit; then every question about the past is asked, of the index and of git alone.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from engine.book import Book
from engine.views.serialise import flat, plain
from tests.mini_book import BUSH, SEAT, plain_git
from tests.shop_floor import Opener, Stepping, ink

REACH = "positions.seat.reach"
FILE = f"records/{SEAT}.toml"
LINE = b"reach = 612.350"


def value(spelt: bytes) -> Callable[[bytes], bytes]:
    return lambda text: text.replace(LINE, b"reach = " + spelt)


VALUES: dict[bytes, str | list[Any] | bool] = {  # how it is spelt -> how JSON has it
    b"nan": "nan", b"-nan": "-nan", b"inf": "inf", b"-inf": "-inf", b"1e30": "1e+30",
    b"1e-30": "1e-30", b"1e99999999": "1e+99999999", b"0e99": "0e+99", b"9" * 60: "9" * 60,
    b"0x" + b"f" * 90: str(int("f" * 90, 16)), b"1." + b"0" * 60: "1." + "0" * 60,
    b"07:15:00": "07:15:00", b"2026-03-02": "2026-03-02",
    b"2026-03-02T07:15:00": "2026-03-02T07:15:00",
    b"2026-03-02T07:15:00+01:00": "2026-03-02T07:15:00+01:00",
    b"[1, 2]": ["1", "2"], b"[nan, 07:15:00, {a = inf}]": ["nan", "07:15:00", {"a": "inf"}],
    b"true": True, b'"612"': "612", b'""': "",
    b"[" * 90 + b"]" * 90: json.loads("[" * 90 + "]" * 90),
}  # fmt: skip
TABLES: dict[str, Callable[[bytes], bytes]] = {
    "a table where a value was": value(b"{a = 07:15:00, b = nan}"),
    "an empty table where a value was": value(b"{}"),
    "a value where a table was": lambda text: b"positions = nan\n" + text.replace(
        b"[positions.", b"[others."),
    "a value where a station was": lambda text: text.replace(
        b"[positions.seat]", b"[positions]\nseat = 5\n[others]"),
    "tables in a list": lambda text: text + b"\n[[jaws2]]\na = nan\n[[jaws2]]\na = 07:15:00\n",
    "odd keys": value(b'5\n"re.ach" = 1\n"" = nan\n"a\\nb" = 2\n"\\u001b]0;x" = 07:15:00'),
    "an odd format": lambda text: text.replace(b"format = 2", b"format = nan"),
    "a format that is a time": lambda text: text.replace(b"format = 2", b"format = 07:15:00"),
}  # fmt: skip
UNREADABLE: dict[str, Callable[[bytes], bytes]] = {
    "conflict markers": value(b"1\n<<<<<<< here\n=======\n>>>>>>> there"),
    "no UTF-8": value(b'"\xff\xfe"'),
    "over-size": lambda text: text + b"# " + b"x" * 1_100_000,
    "deep lists": value(b"[" * 3000 + b"]" * 3000),
    "deep keys": lambda text: text + b"\n[" + b".".join([b"a"] * 40) + b"]\nb = 1\n",
    "a number of 5000 digits": value(b"9" * 5000),
    "an exponent beyond all": value(b"1e999999999999999999999"),
    "a NUL": value(b'"a\0b"'),
}


def commit(folder: Path, text: bytes, said: str = "by hand") -> str:
    (folder / FILE).write_bytes(text)
    plain_git(folder, "commit", "-qam", said)
    return plain_git(folder, "rev-parse", "HEAD").strip()


def both_ways(folder: Path, monkeypatch: pytest.MonkeyPatch, ask: Callable[[Book], Any]) -> Any:
    """What the index answers, if git alone answers the same."""
    answers = []
    for plainly in ("", "1"):
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", plainly)
        book = Book.open(folder, login="mira", clock=Stepping())
        answers.append(json.dumps(ask(book), sort_keys=True))
        book.close()
    assert answers[0] == answers[1]
    return json.loads(answers[0])


def everything(book: Book) -> dict[str, Any]:
    """Every question about the past, as JSON tells it."""
    seat, bush = book.document(SEAT), book.document(BUSH)
    found: dict[str, Any] = {
        "history": [plain(item) for item in book.history(per_page=10_000).items],
        "every": [flat(item) for item in book.every_change()],
        "trace": plain(seat.past.trace(REACH)),
        "section": plain(seat.past.trace("positions")),
        "marks": plain(seat.past.marks()),
        "shown": plain(seat.show("ink-2")),
        "compared": plain(seat.past.compare("ink-1", "ink-2")),
        "back": plain(seat.past.compare("ink-2", "ink-3")),
        "bush": plain(bush.past.trace(REACH)),
        "listed": plain(book.list_records()),
        "moved": plain(book.moved()),
        "creep": plain(book.creep(SEAT)),
        "stood": plain(book.stood(REACH, book.now(), above=Decimal(0))),
    }
    assert not [f for f in book.check() if f.rule == "rule-failed"]
    return found


def odd_then_mended(folder: Path, change: Callable[[bytes], bytes]) -> str:
    sound = (folder / FILE).read_bytes()
    odd = change(sound)
    assert odd != sound
    made = commit(folder, odd)
    commit(folder, sound.replace(LINE, b"reach = 700.5"), "mended")
    return made


@pytest.mark.parametrize("spelt", VALUES)
def test_an_odd_value_is_told_as_it_is_and_marked(
    folder: Path, monkeypatch: pytest.MonkeyPatch, spelt: bytes
) -> None:
    made = odd_then_mended(folder, value(spelt))
    found = both_ways(folder, monkeypatch, everything)
    told = VALUES[spelt]
    _, odd, mended = found["trace"]
    assert (odd["commit"], odd["old"], odd["new"]) == (made, "612.350", told)
    assert (odd["delta"], odd["unusable"], odd["unit"]) == (None, "new", "mm")
    assert (mended["old"], mended["new"]) == (told, "700.5")
    assert (mended["delta"], mended["unusable"]) == (None, "old")
    assert [row["new"] for row in found["every"] if row["commit"] == made] == [told]
    assert found["shown"]["values"]["positions"]["seat"]["reach"] == told
    assert "reach" in found["shown"]["problems"][0]
    assert [c["unusable"] for c in found["compared"]] == ["new"]
    assert [item["record"] for item in found["stood"]] == [BUSH, SEAT]
    assert [item["net"] for item in found["moved"]] == ["88.150"]  # from first to last


@pytest.mark.parametrize("name", TABLES)
def test_odd_tables_and_keys_are_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    made = odd_then_mended(folder, TABLES[name])
    found = both_ways(folder, monkeypatch, everything)
    assert [row for row in found["every"] if row["commit"] == made and row["unusable"]] or (
        name.startswith("an empty")
    )
    assert "700.5" in [row["new"] for row in found["trace"]]
    assert len(found["bush"]) == 1


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_text_that_is_no_toml_is_unreadable_there_and_no_value_is_gone(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    made = odd_then_mended(folder, UNREADABLE[name])
    found = both_ways(folder, monkeypatch, everything)
    first, broken, mended = found["trace"]
    assert first["new"] == "612.350"
    assert (broken["commit"], broken["address"], broken["old"], broken["new"]) == (
        made, "", None, None,
    )  # fmt: skip
    assert (mended["old"], mended["new"], mended["delta"]) == ("612.350", "700.5", "88.150")
    assert [row["address"] for row in found["every"] if row["commit"] == made] == [""]
    assert found["compared"] == found["back"] == []
    assert found["shown"]["values"] == {}
    assert found["shown"]["text"]
    assert "unreadable there" in found["marks"][1]["text"]


@pytest.mark.parametrize("name", ["nan", "conflict markers"])
def test_what_stands_odd_at_the_head_harms_nobody_else(
    at: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    commit(folder, UNREADABLE.get(name, value(name.encode()))((folder / FILE).read_bytes()))

    def ask(book: Book) -> Any:
        problems = {item.record: bool(item.problems) for item in book.list_records()}
        assert problems == {SEAT: True, BUSH: False}
        compared = book.document(SEAT).past.compare("ink-1", "now")
        return plain([book.document(SEAT).past.trace(REACH), compared]), compared.unreadable

    _, unreadable = both_ways(folder, monkeypatch, ask)
    assert bool(unreadable) == (name != "nan")
    mira = at("mira")
    ink(mira, BUSH, positions__seat__reach="600.1")
    mira.document(SEAT).restore("ink-1", reason="slip")
    assert mira.document(SEAT).values()[REACH] == Decimal("612.350")


def test_an_unreadable_end_is_said_and_the_same_text_does_not_differ(
    at: Opener, folder: Path
) -> None:
    odd_then_mended(folder, UNREADABLE["conflict markers"])
    past = at("mira").document(SEAT).past
    (said,) = past.compare("ink-2", "now").unreadable
    assert "ink-2" in said
    assert "line 64" in said
    assert past.compare("ink-2", "ink-2").unreadable == ()


def test_an_odd_number_in_a_cell_or_policy_does_not_close_the_list(
    at: Opener, folder: Path
) -> None:
    ole = at("ole")
    ole.document(SEAT).sign_off("as proved")
    cell = folder / "cells/lathe.toml"
    cell.write_bytes(cell.read_bytes().replace(b"mass = 2", b"mass = 1e999999999"))
    plain_git(folder, "commit", "-qam", "slip")
    listed = {item.record: item for item in ole.list_records()}
    assert listed[SEAT].signed_off == "void"
    row = ole.history(per_page=1).items[0]
    assert (row.document, row.change.address, row.change.unusable) == (
        "cells/lathe", "grippers.one.mass", "new",
    )  # fmt: skip


def test_it_comes_by_sync_and_harms_nobody(at: Opener, folder: Path, tmp_path: Path) -> None:
    meet, other = tmp_path / "meet.git", tmp_path / "other"
    plain_git(tmp_path, "init", "-q", "--bare", "-b", "main", str(meet))
    mira = at("mira")
    mira.sync(str(meet))
    plain_git(tmp_path, "clone", "-q", str(meet), str(other))
    commit(other, value(b"nan")((other / FILE).read_bytes()))
    plain_git(other, "push", "-q", "origin", "HEAD:main")
    ink(mira, BUSH, positions__seat__reach="600.1")
    done = mira.sync(str(meet))
    json.dumps(plain(done))
    assert mira.document(SEAT).past.trace(REACH)[-1].change.unusable == "new"
    assert json.dumps([flat(item) for item in mira.every_change()])
