"""Outlines of many commits: rows before a moment are left out, and nothing else is."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator
from math import inf
from pathlib import Path

import pytest

from engine.log import index_file
from engine.log.index_file import Damaged
from engine.log.index_outlines import SIZE, Outline, Outlines

COUNT = 5 * SIZE + 7


@pytest.fixture
def db(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    found = index_file.open_file(tmp_path / "cache" / "i.sqlite")
    index_file.empty(found)
    yield found
    found.close()


def written(db: sqlite3.Connection) -> list[Outline]:
    """Commits whose stamps go up and, beside each other, down again; written in odd stretches."""
    dice = random.Random(5)
    tops = [n * 10 + dice.randrange(-900, 900) for n in range(COUNT)]
    made = [Outline(top, 1, False, 1, top, n - 1, -1, 0) for n, top in enumerate(tops)]
    n = 0
    while n < COUNT:
        size = dice.choice((1, 3, SIZE, SIZE + 60))
        Outlines(db).append(n, made[n : n + size])
        n += size
    return made


def test_no_commit_since_a_moment_is_left_out(db: sqlite3.Connection) -> None:
    made, outlines = written(db), Outlines(db)
    for since in (-inf, 0, 999, 5_000, 9_999, COUNT * 10 - 500, COUNT * 20):
        rows = list(outlines.newest_first(COUNT, since))
        found = {first + n: Outline(*row) for first, part in rows for n, row in enumerate(part)}
        assert all(made[n] == outline for n, outline in found.items())
        assert {n for n, one in enumerate(made) if one.top >= since} <= found.keys()
        assert [first for first, _ in rows] == sorted((first for first, _ in rows), reverse=True)
    assert len(list(outlines.newest_first(COUNT, 9_999))) < len(list(outlines.newest_first(COUNT)))


@pytest.mark.parametrize("more", [3, SIZE - 5, SIZE, 2 * SIZE, 3 * SIZE])
def test_outlines_that_grew_since_are_looked_at(db: sqlite3.Connection, more: int) -> None:
    early = [Outline(n, 1, False, 1, n, n - 1, -1, 0) for n in range(SIZE + 5)]
    Outlines(db).append(0, early)
    known = Outlines(db)
    assert len(list(known.newest_first(SIZE + 5, 10))) == 2
    late = [Outline(9_000 + n, 1, False, 1, 9_000 + n, n - 1, -1, 0) for n in range(more)]
    Outlines(db).append(SIZE + 5, late)
    end = SIZE + 5 + more
    assert list(dict(known.newest_first(end, 9_000))) == [*range(SIZE, end, SIZE)][::-1]


@pytest.mark.parametrize(
    "loss", ["DELETE FROM outlines WHERE first < 0",
             "UPDATE outlines SET packed = zeroblob(length(packed)) WHERE first < 0"]
)  # fmt: skip
def test_stamps_that_are_lost_are_missed(db: sqlite3.Connection, loss: str) -> None:
    written(db)
    db.execute(loss)
    assert list(Outlines(db).newest_first(COUNT))
    with pytest.raises(Damaged):
        list(Outlines(db).newest_first(COUNT, 9_999))
