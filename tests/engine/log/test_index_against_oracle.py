"""The index, and the plain walk, against a comparison of trees that uses nothing of ours."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from engine.log.commits import ChangeQuery, PastSource, ValueChange
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from tests.engine.log.random_past import RandomPast, oracle, stands


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal) and value.is_nan():
        return "nan"  # as in the oracle
    return tuple(map(_plain, value)) if isinstance(value, list) else value


def _as_set(rows: Iterable[ValueChange]) -> set[tuple[Any, ...]]:
    found = [(r.saved.id, r.key, r.address, _plain(r.old), _plain(r.new)) for r in rows]
    assert len(set(found)) == len(found), "no change twice"
    return set(found)


def _stood(past: PastSource, key: str, spans: list[tuple[str, str]]) -> set[tuple[Any, ...]]:
    """Which values stood in which spans: of the same one inked twice apart, either counts."""
    rows = past.rows(key, lambda _: True)
    stood = past.stood_in([(row.saved.id, row.address) for row in rows], spans)
    pairs = zip(rows, stood, strict=True)
    return {(row.address, _plain(row.new), span) for row, found in pairs for span in found}


def _decisions(rows: Iterable[ValueChange]) -> set[tuple[str, str, str, str, str]]:
    """Where merges decided, and between the values of which commits."""
    return {(r.saved.id, r.key, r.address, *r.decided) for r in rows if r.decided}


def homes_of(plain: WalkedPast) -> set[str]:
    return {path for key in plain.documents() for path in plain.homes(key)}


@pytest.mark.parametrize("seed", range(24))
def test_no_row_is_missing_extra_or_wrong(tmp_path: Path, seed: int) -> None:
    made = RandomPast(tmp_path / "book", seed, commits=30)
    git = Git(made.folder)
    head = made.heads[-1]
    wanted = oracle(made.folder, head)
    plain = WalkedPast(git, DocumentCache(git))
    plain.refresh(head)
    assert _as_set(plain.rows_of_all(ChangeQuery())) == wanted

    at_once = IndexedPast(git, tmp_path / "cache" / "at-once.sqlite")
    at_once.refresh(head)
    grown = IndexedPast(git, tmp_path / "cache" / "grown.sqlite")
    for earlier in made.heads:
        grown.refresh(earlier)
    assert not grown.rewritten
    for index in (at_once, grown):
        assert _as_set(index.rows_of_all(ChangeQuery())) == wanted
        for key in {row[1] for row in wanted}:
            assert _as_set(index.rows(key, lambda _: True)) == {r for r in wanted if r[1] == key}
            assert set(index.life(key)) == set(plain.life(key))
        assert index.count() == plain.count()
        for key, values in stands(made.folder, head).items():
            last = {r.address: _plain(r.new) for r in index.rows(key, lambda _: True)}
            assert {a: v for a, v in last.items() if v is not None} == values, "the last rows stand"
        assert _decisions(index.rows_of_all(ChangeQuery())) == _decisions(
            plain.rows_of_all(ChangeQuery())
        )
        assert index.documents() == plain.documents()
        for path in (*homes_of(plain), "records/nobody.toml"):
            assert index.keys_at(path) == plain.keys_at(path)
        index.close()
    order = [step.saved.id for key in plain.last_steps() for step in at_once.life(key)]
    assert {at_once.saved(commit) for commit in order} == {plain.saved(c) for c in order}
    git.close()


def test_steps_of_one_commit_are_found_though_some_of_them_are_written(tmp_path: Path) -> None:
    """A text that is no TOML has the builder write in the middle of a commit, and look back."""
    made = RandomPast(tmp_path / "book", 42, commits=40)  # a merge that takes such a text out
    git = Git(made.folder)
    plain = WalkedPast(git, DocumentCache(git))
    index = IndexedPast(git, tmp_path / "cache" / "i.sqlite")
    for past in (plain, index):
        past.refresh(made.heads[-1])
    for key in plain.documents():
        rows = index.rows(key, lambda _: True)
        assert _as_set(rows) == _as_set(plain.rows(key, lambda _: True))
        assert _decisions(rows) == _decisions(plain.rows(key, lambda _: True))
    index.close()
    git.close()


@pytest.mark.parametrize("seed", range(100, 104))
def test_both_ways_answer_alike(tmp_path: Path, seed: int) -> None:
    made = RandomPast(tmp_path / "book", seed, commits=40)
    git = Git(made.folder)
    plain, index = (
        WalkedPast(git, DocumentCache(git)),
        IndexedPast(git, tmp_path / "c" / "i.sqlite"),
    )
    for head in made.heads[:: max(len(made.heads) // 3, 1)] + made.heads[-1:]:
        plain.refresh(head)
        index.refresh(head)
    some = [saved for saved in map(plain.saved, made.heads) if saved is not None]
    assert index.jumps() == plain.jumps()
    for key in plain.last_steps():
        spans = [(one.id, other.id) for one in some[::4] for other in some[::3]]
        assert _stood(index, key, spans) == _stood(plain, key, spans)
    for saved in some:
        assert index.rank(saved.id)[0] == plain.rank(saved.id)[0]
        for doubtful in (False, True):
            asked_at = [past.head_at(saved.when, doubtful=doubtful) for past in (index, plain)]
            assert asked_at[0] == asked_at[1]
        assert index.commits_beginning(saved.id[:9]) == plain.commits_beginning(saved.id[:9])
        for asked in (
            ChangeQuery(person="mira", since=saved.when),
            ChangeQuery(until=saved.when, covers=lambda a: a.startswith("positions.")),
            ChangeQuery(without_reason=True, key="wm-test01"),
        ):
            assert _as_set(index.rows_of_all(asked)) == _as_set(plain.rows_of_all(asked))
    assert {k: n for k, (n, _) in index.last_steps().items()} == {
        k: n for k, (n, _) in plain.last_steps().items()
    }
    index.close()
    git.close()
