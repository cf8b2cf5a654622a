"""Other processes look at documents: what they find is what this one finds, and never missed."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

import engine.checks
from engine.checks import crew
from engine.log import kept

from .conftest import ONE, TWO, Mini
from .faults import FAULTS
from .test_kept_findings import fresh

BROKEN = ("program-end", "outside-travel", "no-role", "photo-of-nothing")


@pytest.fixture(autouse=True)
def _short_tick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crew, "FEW", 0)


@pytest.fixture
def broken(mini: Mini) -> Mini:
    for name in BROKEN:
        FAULTS[name].break_it(mini)
    assert mini.book
    return mini


def here(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the documents that this process looks at itself."""
    found: list[str] = []
    plain = engine.checks._look_at

    def counted(view: engine.checks.DocumentView) -> list[list[object]]:
        found.append(view.name)
        return plain(view)

    monkeypatch.setattr(engine.checks, "_look_at", counted)
    return found


def test_a_crew_finds_what_one_finds(broken: Mini, monkeypatch: pytest.MonkeyPatch) -> None:
    looked_at, told = here(monkeypatch), list[int]()
    broken.book.watch(lambda _: None, told.append)
    time.sleep(2.1)  # what was written a moment ago is kept by nobody
    found = broken.book.check()
    assert looked_at == [], "the crew did it all"
    assert found == fresh(broken.book)
    assert {"program-end", "outside-travel", "no-role", "photo-of-nothing"} <= {
        f.rule for f in found
    }
    assert told[-1] == 0, "it is told when it is over"


def test_a_crew_that_cannot_work_costs_time_only(
    broken: Mini, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(crew, "_ONE_OF_IT", "engine.checks.nothing_of_that_name")
    assert broken.book.check() == fresh(broken.book)
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    broken.book.document(ONE).pencil.set("jaws.bite", "7")
    broken.book.document(ONE).ink("other jaws")
    assert broken.book.check() == fresh(broken.book)


def test_nothing_of_the_book_is_run(broken: Mini, monkeypatch: pytest.MonkeyPatch) -> None:
    marker = broken.folder / "was-run"
    for name in ("engine.py", "json.py", "sitecustomize.py"):
        broken.write(name, f"open({str(marker)!r}, 'w')".encode())
    monkeypatch.chdir(broken.folder)
    broken.book.check()
    assert not marker.exists()


def test_the_past_is_read_by_another_process(mini: Mini) -> None:
    assert mini.book
    index = kept.place_of(mini.folder).with_name(
        kept.place_of(mini.folder).name.replace(".kept", "")
    )
    index.unlink(missing_ok=True)
    other = mini.opener("alin")
    other.read_past()
    assert other.knows_findings() is False
    assert [item.known for item in other.list_records(wait=False)] == [False, False]
    assert {item.record for item in other.list_records(wait=False)} == {ONE, TWO}


def test_who_does_not_wait_is_told_what_is_known(mini: Mini) -> None:
    at_once = mini.book.list_records(wait=False)
    assert [(item.known, item.findings) for item in at_once] == [(False, None), (False, None)]
    waited = mini.book.list_records()
    assert all(item.known and item.findings is not None for item in waited)
    time.sleep(2.1)
    mini.book.list_records()
    later = mini.opener("alin").list_records(wait=False)
    assert [item.part for item in later] == [item.part for item in waited]


def test_the_line_of_one_record_is_that_of_the_list(mini: Mini) -> None:
    mini.book.document(ONE).pencil.set("jaws.bite", "7")
    listed = {item.record: item for item in mini.book.list_records(findings=False)}
    assert mini.book.listed(ONE) == listed[ONE]
    assert mini.book.listed(TWO) == listed[TWO]
    assert mini.book.listed("people") is None


def test_the_place_of_kept_answers_is_no_place_of_the_book(mini: Mini) -> None:
    assert not kept.place_of(mini.folder).is_relative_to(Path(mini.folder))


def test_somebodys_ink_sends_for_nobody(mini: Mini, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one save brought is read faster than another process starts."""
    other = mini.as_bo()
    mini.book.check()
    other.document(TWO).pencil.set("jaws.bite", "7")
    other.document(TWO).ink("other jaws")

    def refused(*_: object) -> None:
        raise AssertionError("a process was sent for")

    monkeypatch.setattr(crew, "_send", refused)
    mini.book.refresh()
    mini.book.read_past()
    assert {
        item.record: item.last_ink is not None for item in mini.book.list_records(wait=False)
    } == {
        ONE: True,
        TWO: True,
    }


def test_some_documents_are_checked_alone(broken: Mini, monkeypatch: pytest.MonkeyPatch) -> None:
    """What rules about the book say of them comes later; no other document is looked at."""
    looked_at = here(monkeypatch)
    alone = broken.book.check_alone([ONE])
    assert looked_at == [ONE]
    assert {f.rule for f in alone} >= {"program-end", "outside-travel"}
    assert [f for f in broken.book.check([ONE]) if f in alone] == alone
