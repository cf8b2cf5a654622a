"""Each question to the index by itself: what was lost or does not fit is told, nothing else is.

`test_index_misfortune.py` asks everything of a spoilt index, where the first question that notices
speaks for all. Here each has to notice on its own what it would answer wrongly.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from engine.log import index_file
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.index_file import Damaged
from engine.log.index_tables import IndexTables
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from tests.engine.log.random_past import RandomPast

RECORD = "wm-test01"
BOOK = "book"


@dataclass
class Opened:
    """A copy of one index, to be spoilt, and the past that it is of."""

    index: IndexedPast
    db: sqlite3.Connection
    walked: WalkedPast

    @property
    def tables(self) -> IndexTables:
        """The rows, with nothing of them in memory yet."""
        return IndexTables(self.db, 20, index_file.said(self.db))

    def number(self, text: str) -> int:
        """The number of a word."""
        return int(self.db.execute("SELECT w FROM words WHERE text = ?", (text,)).fetchone()[0])


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Git, bytes, WalkedPast]:
    """A random past, its index as a file, and the walk."""
    folder = tmp_path_factory.mktemp("built")
    made = RandomPast(folder / "past", 5, commits=30)
    git = Git(made.folder)
    index = IndexedPast(git, folder / "own" / "index")
    index.refresh(made.heads[-1])
    index.close()
    walked = WalkedPast(git, DocumentCache(git))
    walked.refresh(made.heads[-1])
    return git, index.file.read_bytes(), walked


@pytest.fixture
def opened(built: tuple[Git, bytes, WalkedPast], tmp_path: Path) -> Iterator[Opened]:
    git, data, walked = built
    file = tmp_path / "own" / "index"
    file.parent.mkdir(mode=0o700)
    file.write_bytes(data)
    index = IndexedPast(git, file)
    index.refresh(walked.head)
    yield Opened(index, index.db, walked)
    index.close()


QUESTIONS: dict[str, Callable[[Opened], Any]] = {
    "a word": lambda it: it.tables.word(3),
    "the number of a word": lambda it: it.tables.number(RECORD),
    "the number of no word": lambda it: it.tables.number("nobody"),
    "a commit": lambda it: it.tables.save(5),
    "a commit by its id": lambda it: it.tables.save_row(it.walked._saves[5].id),
    "where a commit stands": lambda it: it.index.order_of(it.walked._saves[5].id),
    "parents": lambda it: it.tables.parents(5),
    "all outlines": lambda it: list(it.tables.outlines.newest_first(it.walked.count())),
    "a document": lambda it: it.tables.document(it.number(RECORD)),
    "no document": lambda it: it.tables.document(10**6),
    "records": lambda it: it.tables.records(),
    "documents": lambda it: it.tables.documents(),
    "names": lambda it: it.tables.keys_at("records/nowhere.toml"),
    "a life": lambda it: it.tables.steps_of(RECORD),
    "of a commit": lambda it: it.tables.steps_of_save(0, it.tables.outlines.of(0).steps),
    "last steps": lambda it: it.index.last_steps(),
}
HARMS = {
    "DELETE FROM words WHERE w = 3": ["a word"],
    "DELETE FROM words WHERE w = (SELECT max(w) FROM words)": ["the number of no word", "names"],
    f"DELETE FROM words WHERE text = '{RECORD}'": ["the number of a word"],
    "DELETE FROM saves WHERE n = 5": ["a commit", "a commit by its id", "where a commit stands"],
    "DELETE FROM outlines": ["parents", "all outlines"],
    "UPDATE outlines SET packed = substr(packed, 1, 60)": ["parents", "all outlines"],
    f"DELETE FROM documents WHERE key = (SELECT w FROM words WHERE text = '{RECORD}')": [
        "a document", "records", "documents", "no document",
    ],
    f"DELETE FROM documents WHERE key = (SELECT w FROM words WHERE text = '{BOOK}')": ["documents"],
    "DELETE FROM homes WHERE key = (SELECT max(key) FROM homes)": ["names"],
    "DELETE FROM steps WHERE s = 0": ["of a commit"],
    f"DELETE FROM steps WHERE s = (SELECT max(s) FROM steps WHERE key = "
    f"(SELECT w FROM words WHERE text = '{RECORD}'))": ["a life"],
    f"DELETE FROM steps WHERE s = (SELECT last FROM documents WHERE key = "
    f"(SELECT w FROM words WHERE text = '{RECORD}'))": ["a life", "last steps"],
    f"DELETE FROM steps WHERE s = (SELECT min(s) FROM steps WHERE key = "
    f"(SELECT w FROM words WHERE text = '{RECORD}'))": ["a life"],
}  # fmt: skip


def test_a_sound_index_answers_every_question(opened: Opened) -> None:
    for ask in QUESTIONS.values():
        ask(opened)
    assert opened.tables.number("nobody") == -1
    assert opened.tables.document(10**6) is None
    assert opened.tables.keys_at("records/nowhere.toml") == []
    assert opened.tables.documents() == opened.walked.documents()
    assert {opened.tables.word(row[0]) for row in opened.tables.records()} == {
        key for key in opened.walked.documents() if key.startswith("wm-")
    }
    for n, saved in enumerate(opened.walked._saves):
        assert opened.tables.save(n) == saved
        assert opened.tables.parents(n) == tuple(map(opened.walked.order_of, saved.parents))


@pytest.mark.parametrize(
    ("harm", "question"), [(harm, each) for harm, asked in HARMS.items() for each in asked]
)
def test_what_is_lost_is_missed_by_whoever_asks_for_it(
    opened: Opened, harm: str, question: str
) -> None:
    known = opened.number(RECORD)
    assert opened.db.execute(harm).rowcount > 0
    opened.number = lambda text: known  # type: ignore[method-assign]
    with pytest.raises(Damaged):
        QUESTIONS[question](opened)


@pytest.mark.parametrize("table", ["words", "saves", "outlines", "documents", "homes", "steps"])
def test_a_row_that_says_something_else_is_told_from_one_that_was_written(
    opened: Opened, table: str
) -> None:
    """Its sum is over all of the row, and over the table that it stands in."""
    names = [row[1] for row in opened.db.execute(f"PRAGMA table_info({table})")]
    assert index_file.read(opened.db, table)
    number = next(name for name in names if name not in ("text", "packed"))
    opened.db.execute(f"UPDATE {table} SET {number} = {number} + 1000000")
    with pytest.raises(Damaged):
        index_file.read(opened.db, table)


def test_a_way_into_the_words_that_leads_elsewhere_makes_nobody_unknown(opened: Opened) -> None:
    """The unique ways of two tables are exchanged: neither finds what is there."""
    ways = "SELECT rootpage, name FROM sqlite_master WHERE name LIKE 'sqlite_autoindex_%_1' AND "
    ways += "tbl_name IN ('words', 'saves') ORDER BY name"
    (one, first), (other, second) = opened.db.execute(ways).fetchall()
    opened.index.close()
    db = sqlite3.connect(opened.index.file, isolation_level=None)
    db.execute("PRAGMA writable_schema = ON")
    for page, name in ((other, first), (one, second)):
        db.execute("UPDATE sqlite_master SET rootpage = ? WHERE name = ?", (page, name))
    db.close()
    opened.db = index_file.open_file(opened.index.file)
    with pytest.raises(sqlite3.DatabaseError):
        opened.tables.number(RECORD)
    with pytest.raises(sqlite3.DatabaseError):
        opened.index.order_of(opened.walked._saves[5].id)
    opened.db.close()


@pytest.mark.parametrize("field", ["commits", "steps", "words", "records", "homes"])
def test_what_it_says_of_itself_is_the_least_there_is(opened: Opened, field: str) -> None:
    """A reader whose transaction began earlier sees less than there is by now, never more."""
    said = index_file.said(opened.db)
    now = getattr(said, field)
    asked = {
        "commits": lambda t: list(t.outlines.newest_first(t.extent.commits)),
        "steps": lambda t: t.documents(),
        "words": lambda t: t.number("nobody"),
        "records": lambda t: t.records(),
        "homes": lambda t: t.keys_at("records/a.toml"),
    }[field]
    for less in (0, 1):
        asked(IndexTables(opened.db, 20, replace(said, **{field: now - less})))
    more = 200 if field == "commits" else 1
    with pytest.raises(Damaged):
        asked(IndexTables(opened.db, 20, replace(said, **{field: now + more})))


def test_stamps_that_run_backwards_are_all_there_or_it_is_told(opened: Opened) -> None:
    said = index_file.said(opened.db)
    assert opened.tables.jumps() == opened.walked.jumps()
    with pytest.raises(Damaged):
        IndexTables(opened.db, 20, replace(said, jumped=1)).jumps()
