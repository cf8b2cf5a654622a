"""What changed in the whole book since a moment, against what each record's own past says."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from engine.book.comparing import DocumentPast
from engine.book.session import Session
from engine.book.since_moment import since_moment
from engine.log.past import NO_INDEX
from engine.log.recent_texts import RecentTexts
from engine.views import Comparison
from engine.views.serialise import plain, positions
from tests.benchmarks.big_book import make_book
from tests.engine.log.random_past import RandomPast
from tests.mini_book import plain_git


def opened(folder: Path) -> Session:
    session = Session(folder, lambda: datetime(2026, 1, 2, tzinfo=UTC))
    session.refresh()
    return session


def moments(folder: Path, every: int) -> Iterator[datetime]:
    """Moments before, at and between the saves of a book."""
    stamps = sorted({int(s) for s in plain_git(folder, "log", "--format=%ct").split()})
    for stamp in [stamps[0] - 10, *stamps[::every], stamps[-1]]:
        yield datetime.fromtimestamp(stamp, UTC) + timedelta(seconds=stamp % 2)


def unequal(session: Session, moment: datetime) -> list[str]:
    """Records of which the two ways say different things."""
    held = list(session.places("record"))
    told = since_moment(session, held, moment)
    assert [item.document for item in told] == [h.name for h in held]
    each = [DocumentPast(h).since(moment) for h in held]
    return [
        h.name for h, *both in zip(held, told, each, strict=True) if len(set(map(said, both))) > 1
    ]


def said(item: Comparison) -> str:
    """All of a comparison as it is told: `nan` is not equal to itself."""
    rest = replace(item, changes=(), positions=())
    return f"{rest} {plain(item.changes)} {positions(item)}"


@pytest.mark.parametrize("seed", range(300, 312))
@pytest.mark.parametrize("no_index", ["", "1"])
def test_random_histories_are_told_alike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, no_index: str
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv(NO_INDEX, no_index)
    made = RandomPast(tmp_path / "book", seed, commits=50)
    plain_git(made.folder, "reset", "-q", "--hard", "main")
    session = opened(made.folder)
    for moment in moments(made.folder, 3):
        assert unequal(session, moment) == []


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records of the demo with their programs, some saves by hand."""
    return make_book(tmp_path_factory.mktemp("shop") / "book", 12, 160, seed=3)


def test_a_shops_history_is_told_alike(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = tmp_path / "book"
    shutil.copytree(shop, folder)
    for n, program in enumerate(sorted((folder / "programs").iterdir())[:6]):
        if n % 2:
            program.write_bytes(program.read_bytes() + b"(later)\n")
        else:
            program.unlink()
    plain_git(folder, "add", "-A")
    plain_git(folder, "commit", "-q", "-m", "programs by hand")
    session = opened(folder)
    quick = vars(RecentTexts)["quick_change"]
    counts = Counter[bool]()

    def counted(self: RecentTexts, *asked: Any) -> object:
        found = quick(self, *asked)
        counts[found is not None] += 1
        return found

    monkeypatch.setattr(RecentTexts, "quick_change", counted)
    for moment in moments(folder, 20):
        assert unequal(session, moment) == []
    assert counts[True] > counts[False], "else both ways are one"


def test_the_whole_book_costs_no_questions_for_each_record(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A moment after which nothing happened: whatever is asked, it is asked for all at once."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    session = opened(shop)
    held = list(session.places("record"))
    last = session.past.saved(session.head)
    assert last is not None
    since_moment(session, held[:1], last.when)
    asked: list[str] = []
    pipe = session.git.object
    monkeypatch.setattr(session.git, "object", lambda name: asked.append(name) or pipe(name))
    told = since_moment(session, held, last.when)
    assert len(told) == len(held)
    assert len(asked) < 4
