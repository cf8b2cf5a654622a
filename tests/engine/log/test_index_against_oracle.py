"""The index, and the plain walk, against a comparison of trees that uses nothing of ours."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from engine.log.commits import ChangeQuery, ValueChange
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from tests.engine.log.random_past import RandomPast, oracle


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal) and value.is_nan():
        return "nan"  # as in the oracle
    return tuple(map(_plain, value)) if isinstance(value, list) else value


def _as_set(rows: Iterable[ValueChange]) -> set[tuple[Any, ...]]:
    found = [(r.saved.id, r.key, r.address, _plain(r.old), _plain(r.new)) for r in rows]
    assert len(set(found)) == len(found), "no change twice"
    return set(found)


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
        assert index.documents() == plain.documents()
        for path in (*homes_of(plain), "records/nobody.toml"):
            assert index.keys_at(path) == plain.keys_at(path)
        index.close()
    order = [step.saved.id for key in plain.last_steps() for step in at_once.life(key)]
    assert {at_once.saved(commit) for commit in order} == {plain.saved(c) for c in order}
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
    for saved in some:
        assert index.head_at(saved.when) == plain.head_at(saved.when)
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
