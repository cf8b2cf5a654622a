"""What rules say of a document is kept: it must never differ from what they would say now."""

from __future__ import annotations

import random
import shutil
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import engine.checks
from engine.book import Book, leaning
from engine.book.kept_parts import KeptParts
from engine.checks import check
from engine.repo.commit_object import Signature
from engine.repo.git import Git
from engine.views import Finding
from schemas.errors import Refused, WitnessmarkError
from tests.mini_book import session_of

from .conftest import ONE, TWO, Mini, picture
from .faults import FILE_ONE

CELL, POLICY = "cells/north", "book"
_TICK = 20_000_000  # ns; Linux' own clock of files is finer


class _Nothing:
    """A past that recalls nothing and keeps nothing."""

    def recall(self, prefix: str) -> dict[str, str]:
        return {}

    def keep(self, found: dict[str, str], gone: Sequence[str] = ()) -> None:
        pass


def fresh(book: Book) -> list[Finding]:
    """Findings as rules say them now, whatever was kept."""
    session = session_of(book)
    known = session.kept
    session.kept = KeptParts(_Nothing())  # type: ignore[arg-type]
    try:
        return check(session)
    finally:
        session.kept = known


def aged() -> None:
    """Wait until files that were written can no longer be written unnoticed."""
    time.sleep(_TICK * 1.5e-9)


@pytest.fixture(autouse=True)
def _short_tick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(leaning, "_TICK", _TICK)


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the documents that rules looked at."""
    found: list[str] = []
    plain = engine.checks._look_at

    def counted(view: Any) -> Any:
        found.append(view.name)
        return plain(view)

    monkeypatch.setattr(engine.checks, "_look_at", counted)
    return found


def settled(mini: Mini, looked_at: list[str]) -> None:
    aged()
    mini.book.check()
    mini.book.check()
    looked_at.clear()


def test_nothing_is_looked_at_twice(mini: Mini, looked_at: list[str]) -> None:
    settled(mini, looked_at)
    mini.book.check()
    assert looked_at == []
    other = mini.opener("alin")
    assert other.check() == mini.book.check()
    assert looked_at == [], "what one process found is kept for the next"


INKS: dict[str, tuple[str, str, str, set[str]]] = {
    "a record": (ONE, "jaws.bite", "5", {ONE}),
    "the cell of both": (CELL, "cell.payload_most", "9", {ONE, TWO, CELL}),
    "the policy": (POLICY, "policy.travel_margin", "2", {ONE, TWO, POLICY}),
    "the people": ("people", "people.bo.name", "Bo F.", {"people"}),
}


@pytest.mark.parametrize("what", INKS)
def test_an_ink_has_only_that_looked_at_which_leans_on_it(
    mini: Mini, looked_at: list[str], what: str
) -> None:
    name, address, value, wanted = INKS[what]
    settled(mini, looked_at)
    mini.book.document(name).pencil.set(address, value)
    mini.book.document(name).ink("other now")
    assert mini.book.check() == fresh(mini.book)
    looked_at.clear()
    settled(mini, looked_at)
    mini.book.document(name).pencil.set(address, value + "0" if value.isdigit() else "Bo")
    mini.book.document(name).ink("again")
    looked_at.clear()
    mini.book.check()
    assert set(looked_at) == wanted


def test_what_went_wrong_is_asked_again(
    mini: Mini, looked_at: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mini.may_fail = True
    settled(mini, looked_at)

    def broken(*_: Any) -> Any:
        raise RuntimeError("broken")

    mini.write(f"records/{ONE}.toml", (mini.folder / f"records/{ONE}.toml").read_bytes() + b"#\n")
    aged()
    with monkeypatch.context() as patched:
        patched.setattr("engine.checks.documents.changes_between", broken)
        assert "rule-failed" in {f.rule for f in mini.book.check()}
    assert "rule-failed" not in {f.rule for f in mini.book.check()}


def test_a_program_of_another_making_asks_all_again(
    mini: Mini, looked_at: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    settled(mini, looked_at)
    monkeypatch.setattr("engine.book.kept_parts.made_by", lambda: "another")
    mini.opener("alin").check()
    assert {ONE, TWO} <= set(looked_at)


def test_a_folder_that_a_link_took_the_place_of(mini: Mini, looked_at: list[str]) -> None:
    settled(mini, looked_at)
    away = mini.folder / "aside"
    (mini.folder / "programs").rename(away)
    (mini.folder / "programs").symlink_to(away)
    found = mini.book.check()
    assert "program-unreadable" in {f.rule for f in found}
    assert found == fresh(mini.book)


def test_a_text_that_came_back_has_another_past(mini: Mini, looked_at: list[str]) -> None:
    settled(mini, looked_at)
    text = (mini.folder / FILE_ONE).read_text()
    values = mini.book.document(ONE).values()
    key, value = next((a, v) for a, v in values.items() if a.startswith("positions."))
    key = key.rpartition(".")[2]
    other = text.replace(f"{key} = {value}", f"{key} = {value}1", 1)
    git = Git(mini.folder)
    for data in (other, text):  # the file on disk stays as it is
        head, who = git.head(), Signature("Somebody", "somebody@example.org", mini.clock())
        made = git.commit(head, {FILE_ONE: git.write_blob(data.encode())}, "by hand", who)
        assert git.move(git.branch(), made, head)
    git.close()
    mini.book.refresh()
    found = mini.book.check()
    assert "position-by-hand" in {f.rule for f in found}
    assert found == fresh(mini.book)


# any order of acts


def _set(name: str, address: str, values: Sequence[str]) -> Callable[[Mini, random.Random], None]:
    def act(mini: Mini, dice: random.Random) -> None:
        mini.book.document(name).pencil.set(address, dice.choice(values))

    return act


def _ink(mini: Mini, dice: random.Random) -> None:
    drafts = [d.document for d in mini.book.drafts() if d.who.key == "ana"]
    if drafts:
        mini.book.document(dice.choice(drafts)).ink("because it was so at the machine")


def _on_disk(mini: Mini, dice: random.Random) -> None:
    path = dice.choice((f"records/{ONE}.toml", f"records/{TWO}.toml", "cells/north.toml"))
    text = (mini.folder / path).read_bytes()
    mini.write(path, dice.choice((text + b"# by hand\n", text.replace(b"3", b"4"), b"= none\n")))


def _put_back(mini: Mini, dice: random.Random) -> None:
    for name in (ONE, TWO, CELL):
        mini.book.document(name).on_disk.put_back()


def _program(mini: Mini, dice: random.Random) -> None:
    path = f"programs/cup_{dice.choice((1, 2))}.nc"
    file = mini.folder / path
    if dice.random() < 0.3:
        file.unlink(missing_ok=True)
    else:
        mini.write(path, dice.choice((b"%\nO1\nT1 M6\nM30\n%\n", b"G21\nG0 X1\nM2\n", b"")))


def _photo(mini: Mini, dice: random.Random) -> None:
    mini.write(f"photos/jaws_{dice.choice((1, 2))}.jpg", picture(dice.randrange(200)))


def _by_hand(mini: Mini, dice: random.Random) -> None:
    mini.by_hand()
    mini.book.refresh()


def _run(mini: Mini, dice: random.Random) -> None:
    document = mini.book.document(dice.choice((ONE, TWO)))
    try:
        document.runs.start(5)
    except Refused:
        document.runs.stop(good=3, scrap=0)


def _sign_off(mini: Mini, dice: random.Random) -> None:
    mini.book.document(ONE).sign_off("looked at")


def _rename(mini: Mini, dice: random.Random) -> None:
    document = mini.book.document(TWO)
    other = document.rename(f"{TWO}-x", "by mistake")
    assert other
    mini.book.document(f"{TWO}-x").rename(TWO, "back")


def _days(mini: Mini, dice: random.Random) -> None:
    mini.go(days=dice.choice((1, 8)))


def _stray(mini: Mini, dice: random.Random) -> None:
    shutil.copy(mini.folder / f"records/{ONE}.toml", mini.folder / "records/copied.toml")


def _left(mini: Mini, dice: random.Random) -> None:
    mini.book.document("people").pencil.set("people.bo.left_on", str(date(2025, 1, 1)))


ACTS = [
    _set(ONE, "jaws.bite", ("4", "5", "6.5", "-")),
    _set(ONE, "positions.seat.lift", ("12.5", "900", "13")),
    _set(TWO, "program.file", ("programs/cup_1.nc", "programs/none.nc", "elsewhere/x.nc")),
    _set(TWO, "record.cell", ("north", "nowhere")),
    _set(ONE, "record.retired", ("true", "false")),
    _set(CELL, "cell.ends_tended", ("M30", "M2", "M99")),
    _set(POLICY, "policy.stale_pencil_days", ("1", "3")),
    _ink, _ink, _ink, _on_disk, _put_back, _program, _photo, _by_hand, _run, _run, _sign_off,
    _rename, _days, _stray, _left,
]  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
def test_kept_findings_are_those_of_now(mini: Mini, seed: int) -> None:
    dice, done = random.Random(seed), 0
    mini.may_fail = False
    for _ in range(20):
        act = dice.choice(ACTS)
        with suppress(WitnessmarkError):  # some acts are not to be had at that moment
            act(mini, dice)
            done += 1
        aged()
        for _ in range(dice.choice((0, 2))):  # what was found now, then what was kept of it
            assert mini.book.check() == fresh(mini.book), (seed, act)
    assert done > 4


def test_what_is_kept_is_private(mini: Mini, looked_at: list[str]) -> None:
    settled(mini, looked_at)
    from engine.log import kept

    file: Path = kept.place_of(mini.folder)
    assert file.stat().st_mode & 0o777 == 0o600
    file.write_bytes(b"no database at all, but long enough to look like something" * 40)
    assert mini.opener("alin").check() == mini.book.check(), "a damaged file costs time only"
